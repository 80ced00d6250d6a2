"""What the keys of a plan are made of: quantities as text, shares, dates."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Sequence
from contextlib import suppress
from fractions import Fraction
from typing import Annotated, Final, NamedTuple

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo, WithJsonSchema
from pydantic_core import PydanticCustomError

from vrx.errors import UnitError
from vrx.units import AMOUNT_KINDS, RATE_KINDS, Dialect, Measure, parse_measure, parse_unit

# The header of a DBF table holds its year in one byte, counted from 1900.
FIRST_YEAR: Final = 1900
LAST_YEAR: Final = 2155

KeyPath = tuple[str | int, ...]
"""Where in a plan: keys, and positions in lists from 0."""


class PlanPart(BaseModel):
    """A table of a plan: frozen, and a key that it does not know is an error."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, arbitrary_types_allowed=True, ignored_types=(), str_strip_whitespace=True
    )


class Refused(NamedTuple):
    """One thing that is refused: where in the table, what is wrong, and what would be accepted."""

    at: KeyPath
    problem: str
    remedy: str = ""


class OwnText(str):
    """Text from a file that says its own ``units``: a quantity in it is read in that file's dialect."""

    dialect: Dialect

    def __new__(cls, text: str, dialect: Dialect) -> OwnText:
        """Mark a text with the dialect of its file."""
        made = super().__new__(cls, text)
        made.dialect = dialect
        return made


def refusals(found: Sequence[Refused]) -> PydanticCustomError:
    """Return one error for everything that is refused in a table, so that a person mends it in one go."""
    # The texts travel as values, since braces in a template would be read as fields.
    problem, remedy = " ".join(one.problem for one in found), " ".join(one.remedy for one in found)
    return PydanticCustomError("refused", "{problem}", {"problem": problem, "remedy": remedy, "each": tuple(found)})


def refusal(problem: str, remedy: str = "", at: KeyPath = ()) -> PydanticCustomError:
    """Return the error for a value that is refused, with what would be accepted."""
    return refusals([Refused(at, problem, remedy)])


def dialect_of(value: object, info: ValidationInfo) -> Dialect:
    """Return how the file being read means ``gal`` and ``ac``; the reader passes it as context."""
    if isinstance(value, OwnText):
        return value.dialect
    found = (info.context or {}).get("dialect", Dialect())
    return found if isinstance(found, Dialect) else Dialect()


def _measure(*kinds: str) -> Callable[[object, ValidationInfo], Measure]:
    def read(value: object, info: ValidationInfo) -> Measure:
        if isinstance(value, Measure):
            return value
        try:
            return parse_measure(value, kinds=kinds, dialect=dialect_of(value, info))
        except UnitError as err:
            raise refusal(err.problem, err.remedy) from None

    return read


def _metres(value: object, info: ValidationInfo) -> float:
    return float(_measure("length")(value, info).si)


def _seconds(value: object, info: ValidationInfo) -> float:
    return float(_measure("time")(value, info).si)


def _degrees(value: object, info: ValidationInfo) -> float:
    return float(_measure("angle")(value, info).si)


def _square_metres(value: object, info: ValidationInfo) -> float:
    return float(_measure("area")(value, info).si)


def _share(value: object, info: ValidationInfo) -> Fraction:
    return value if isinstance(value, Fraction) else _measure("share")(value, info).si


def _seeds_word(value: object) -> object:
    # "2800 /lb" reads well in a plan; the unit of the count is seeds either way.
    if not isinstance(value, str):
        return value
    text = re.sub(r"(?<=[0-9.])\s*/", " seeds/", value, count=1)
    return OwnText(text, value.dialect) if isinstance(value, OwnText) else text


def _rate_unit(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str):
        return value
    if value:
        try:
            unit = parse_unit(value, dialect_of(value, info))
        except UnitError as err:
            raise refusal(err.problem, err.remedy) from None
        if unit.kind not in RATE_KINDS:
            raise refusal(
                f"{value!r} is a {unit.kind}; a rate per area is needed.",
                'Write a unit such as "gal/ac", "kg/ha" or "seeds/ac".',
            )
    return value


def _date(value: object) -> object:
    # A number would be taken for seconds since 1970, and a time of day has no place in a plan.
    found = None
    if isinstance(value, str):
        # fromisoformat takes 20270412 and 2027-W15-1 as well, which few people read as a date.
        if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
            with suppress(ValueError):
                found = dt.date.fromisoformat(value)
    elif isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        found = value
    if found is None:
        shown = value.isoformat() if isinstance(value, dt.datetime) else repr(value)
        raise refusal(f"{shown} is not a date.", "Write year, month and day, such as 2027-04-12.")
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise refusal(
            f"{found.isoformat()} is no date that a map can carry.",
            f"Give a year from {FIRST_YEAR} to {LAST_YEAR}.",
        )
    return found


def _text(
    *examples: str, pattern: str = r"^\s*[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?\s*[^\s0-9.,].*$"
) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "pattern": pattern, "examples": list(examples)})


RateText = Annotated[Measure, BeforeValidator(_measure(*RATE_KINDS)), _text("12 gal/ac", "170 kg/ha")]
AmountText = Annotated[Measure, BeforeValidator(_measure(*AMOUNT_KINDS)), _text("1800 gal", "5 tonne")]
WeightText = Annotated[Measure, BeforeValidator(_measure("mass")), _text("18 short_ton", "1500 kg")]
DensityText = Annotated[Measure, BeforeValidator(_measure("mass/volume")), _text("10.6 lb/gal", "1.27 kg/L")]
SeedCountText = Annotated[
    Measure, BeforeValidator(_measure("count/mass")), BeforeValidator(_seeds_word), _text("2800 seeds/lb")
]
SeedWeightText = Annotated[Measure, BeforeValidator(_measure("mass")), _text("42 g")]
AreaText = Annotated[Measure, BeforeValidator(_measure("area")), _text("118.6 ac", "48 ha")]
Metres = Annotated[float, BeforeValidator(_metres), _text("60 ft", "18 m")]
Seconds = Annotated[float, BeforeValidator(_seconds), _text("2 s")]
Degrees = Annotated[float, BeforeValidator(_degrees), _text("85 deg")]
SquareMetres = Annotated[float, BeforeValidator(_square_metres), _text("0.1 ac", "400 m2")]
Share = Annotated[Fraction, BeforeValidator(_share), _text("32 %", pattern=r"^\s*[0-9.]+\s*(%|percent)\s*$")]
UnitText = Annotated[str, BeforeValidator(_rate_unit)]
CalendarDate = Annotated[
    dt.date,
    BeforeValidator(_date),
    WithJsonSchema({"type": "string", "format": "date", "examples": ["2027-04-12"]}),
]

# Taken as they stand: "yes" is not true, true is not 1, and "3" is not a number.
Flag = Annotated[bool, Field(strict=True)]
Whole = Annotated[int, Field(strict=True)]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
