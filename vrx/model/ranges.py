"""Ranges as a plan writes them, ``4 to 6 mph``: how fast the machine goes, and what a pump or meter gives."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Final

from pydantic import BeforeValidator, ValidationInfo, WithJsonSchema

from vrx.errors import UnitError
from vrx.model.keys import dialect_of, refusal
from vrx.units import FLOW_KINDS, Dialect, Measure, number_and_rest, number_text, parse_measure

_TO: Final = re.compile(r"\s+to\s+", re.IGNORECASE)
# Two numbers with another sign between them, which some write for a range and others for a difference.
_OTHER_SIGN: Final = re.compile(r"[0-9.]+\s*(-|–|—|\.\.+|~)\s*[0-9]")
_NUMBER: Final = r"\+?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?"
_UNIT: Final = r"(?!to\s)[^\s0-9.,+-].*?"
_SPEED_EXAMPLE: Final = '"4 to 6 mph", or one speed, "5 mph"'
_FLOW_EXAMPLE: Final = '"2 to 40 gal/min"'


@dataclass(frozen=True, slots=True, kw_only=True)
class Speed:
    """How slow and how fast the machine goes, each with its unit as given, so that people see their own."""

    low: Measure
    high: Measure

    @property
    def low_m_s(self) -> Fraction:
        """The lowest speed, in m/s."""
        return self.low.si

    @property
    def high_m_s(self) -> Fraction:
        """The highest speed, in m/s."""
        return self.high.si

    def __str__(self) -> str:
        return _text(self.low, self.high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """The least and the most that a pump, a meter or an outlet gives, each with its unit as given."""

    low: Measure
    high: Measure

    @property
    def kind(self) -> str:
        """What flows: ``volume/time``, ``mass/time`` or ``count/time``."""
        return self.high.unit.kind

    @property
    def low_si(self) -> Fraction:
        """The least, in m3/s, kg/s or a count a second."""
        return self.low.si

    @property
    def high_si(self) -> Fraction:
        """The most, in m3/s, kg/s or a count a second."""
        return self.high.si

    def __str__(self) -> str:
        return _text(self.low, self.high)


def parse_speed(text: object, dialect: Dialect) -> Speed:
    """Read a range of speeds such as ``4 to 6 mph``, or one speed, ``5 mph``.

    Raises
    ------
    UnitError
        No speed, or not above 0, or the second one is lower.
    """
    low, high = _two(text, ("speed",), dialect, what="speed", example=_SPEED_EXAMPLE)
    low = high if low is None else low
    if not (low.value > 0 and high.value > 0):
        raise UnitError(f"{text!r} is no speed above 0.", remedy=f"Write {_SPEED_EXAMPLE}.")
    _refuse_falling(text, low, high, _SPEED_EXAMPLE)
    return Speed(low=low, high=high)


def parse_flow(text: object, dialect: Dialect) -> Flow:
    """Read the least and the most of a flow, such as ``2 to 40 gal/min``.

    Raises
    ------
    UnitError
        Not two flows of one kind, or below 0, or the second one is lower or 0; or what flows is a nutrient.
    """
    low, high = _two(text, FLOW_KINDS, dialect, what="flow", example=_FLOW_EXAMPLE)
    if low is None:
        raise UnitError(f"{text!r} does not say the least and the most.", remedy=f'Write both, such as "0 to {high}".')
    of = low.unit.of or high.unit.of
    if of:
        raise UnitError(f"{text!r} counts {of}, not the product.", remedy="Give what flows of the product itself.")
    if low.unit.kind != high.unit.kind:
        raise UnitError(f"{text!r} is of two kinds.", remedy=f"Write one unit behind both, such as {_FLOW_EXAMPLE}.")
    if low.value < 0:
        raise UnitError(f"{text!r} begins below 0.", remedy=f"Write {_FLOW_EXAMPLE}, or 0 for the least.")
    _refuse_falling(text, low, high, _FLOW_EXAMPLE)
    if not high.value > 0:
        raise UnitError(f"{text!r} gives nothing.", remedy=f"Give the least and the most, such as {_FLOW_EXAMPLE}.")
    return Flow(low=low, high=high)


def _two(
    text: object, kinds: tuple[str, ...], dialect: Dialect, *, what: str, example: str
) -> tuple[Measure | None, Measure]:
    """Split a range into its ends; the lower one is None where there is one number alone."""
    parts = _TO.split(text.strip()) if isinstance(text, str) else []
    if len(parts) > 2:
        raise UnitError(f"{text!r} has more than two ends.", remedy=f"Write {example}.")
    if isinstance(text, str) and _OTHER_SIGN.match(text.strip()):
        raise UnitError(f'{text!r} has no "to" between its two numbers.', remedy=f"Write {example}.")
    try:
        if len(parts) < 2:
            return None, parse_measure(text, kinds=kinds, dialect=dialect, what=what)
        high = parse_measure(parts[1], kinds=kinds, dialect=dialect, what=what)
        value, own_unit = number_and_rest(parts[0], what=what, example=example)
        if own_unit:
            return parse_measure(parts[0], kinds=kinds, dialect=dialect, what=what), high
    except UnitError as err:
        raise UnitError(err.problem, remedy=f"{err.remedy} It is written {example}.") from None
    return Measure(value, high.unit), high


def _refuse_falling(text: object, low: Measure, high: Measure, example: str) -> None:
    if high.si < low.si:
        raise UnitError(f"{text!r} falls: its second number is the lower one.", remedy=f"Write {example}.")


def _text(low: Measure, high: Measure) -> str:
    if low.unit.name != high.unit.name:
        return f"{low} to {high}"
    return str(high) if low.value == high.value else f"{number_text(low.value)} to {high}"


def _speed(value: object, info: ValidationInfo) -> Speed:
    if isinstance(value, Speed):
        return value
    try:
        return parse_speed(value, dialect_of(value, info))
    except UnitError as err:
        raise refusal(err.problem, err.remedy) from None


def _flow(value: object, info: ValidationInfo) -> Flow:
    if isinstance(value, Flow):
        return value
    try:
        return parse_flow(value, dialect_of(value, info))
    except UnitError as err:
        raise refusal(err.problem, err.remedy) from None


SpeedText = Annotated[
    Speed,
    BeforeValidator(_speed),
    WithJsonSchema(
        {
            "type": "string",
            "pattern": rf"^\s*{_NUMBER}(\s*{_UNIT}\s+to\s+{_NUMBER}|\s+to\s+{_NUMBER})?\s*{_UNIT}\s*$",
            "examples": ["4 to 6 mph", "8 km/h"],
        }
    ),
]
FlowText = Annotated[
    Flow,
    BeforeValidator(_flow),
    WithJsonSchema(
        {
            "type": "string",
            "pattern": rf"^\s*{_NUMBER}\s*({_UNIT})?\s+to\s+{_NUMBER}\s*{_UNIT}\s*$",
            "examples": ["2 to 40 gal/min", "0 to 12 seeds/s"],
        }
    ),
]
