"""What a product costs, and what it is sold in."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Annotated, Final, NamedTuple

from pydantic import BeforeValidator, ValidationInfo, WithJsonSchema

from vrx.errors import UnitError
from vrx.model.keys import dialect_of, refusal
from vrx.units import AMOUNT_KINDS, Dialect, Measure, Unit, number_and_rest, number_text, parse_measure, parse_unit

_EXAMPLE: Final = '"412 USD/short_ton"'
_CURRENCY: Final = re.compile(r"[A-Z]{3}")


class Price(NamedTuple):
    """What an amount costs, in a currency as the plan writes it: three capitals, as in ISO 4217."""

    value: Fraction
    currency: str
    unit: Unit

    def __str__(self) -> str:
        return f"{number_text(self.value)} {self.currency}/{self.unit.name}"


def parse_price(text: object, dialect: Dialect) -> Price:
    """Read a price such as ``412 USD/short_ton`` or ``310 EUR/bag(80000 seeds)``.

    Raises
    ------
    UnitError
        No number, no currency, or no unit of an amount.
    """
    if not isinstance(text, str):
        raise UnitError(f"{text!r} has no currency and no unit.", remedy=f"Write it as text, such as {_EXAMPLE}.")
    value, rest = number_and_rest(text, what="price", example=_EXAMPLE)
    currency, slash, word = (part.strip() for part in rest.partition("/"))
    if not _CURRENCY.fullmatch(currency):
        capitals = currency.upper()
        meant = f"Write {capitals} in capitals" if _CURRENCY.fullmatch(capitals) else "Name it by three capitals"
        raise UnitError(f"{text!r} has no currency behind its number.", remedy=f"{meant}, such as {_EXAMPLE}.")
    if not slash or not word:
        raise UnitError(f"{text!r} does not say for how much.", remedy=f"Write a unit behind it, such as {_EXAMPLE}.")
    unit = parse_unit(word, dialect)
    if unit.kind not in AMOUNT_KINDS:
        raise UnitError(
            f"{text!r} is a price by {unit.kind}; a product is sold by volume, mass or count.",
            remedy=f"Write a unit of those, such as {_EXAMPLE}.",
        )
    return Price(value, currency, unit)


def parse_package(text: object, dialect: Dialect) -> Measure:
    """Read what a package holds: ``2.5 gal``, or ``bag(50 lb)`` for one bag.

    Raises
    ------
    UnitError
        No amount with its unit.
    """
    if isinstance(text, str) and not re.match(r"[0-9.+-]", text.strip()):
        text = f"1 {text.strip()}"
    return parse_measure(text, kinds=AMOUNT_KINDS, dialect=dialect, what="package")


def package_text(package: Measure) -> str:
    """Return a package as people read it: ``2.5 gal``, ``bag(50 lb)``."""
    return package.unit.name if package.value == 1 and "(" in package.unit.name else str(package)


def _price(value: object, info: ValidationInfo) -> Price:
    if isinstance(value, Price):
        return value
    try:
        return parse_price(value, dialect_of(value, info))
    except UnitError as err:
        raise refusal(err.problem, err.remedy) from None


def _package(value: object, info: ValidationInfo) -> Measure:
    if isinstance(value, Measure):
        return value
    try:
        return parse_package(value, dialect_of(value, info))
    except UnitError as err:
        raise refusal(err.problem, err.remedy) from None


PriceText = Annotated[
    Price,
    BeforeValidator(_price),
    WithJsonSchema(
        {
            "type": "string",
            "pattern": r"^\s*([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?\s*[A-Z]{3}\s*/\s*\S.*$",
            "examples": ["412 USD/short_ton", "310 EUR/bag(80000 seeds)"],
        }
    ),
]
PackageText = Annotated[
    Measure,
    BeforeValidator(_package),
    WithJsonSchema({"type": "string", "pattern": r"^\s*\S.*[^\s0-9.,].*$", "examples": ["2.5 gal", "bag(50 lb)"]}),
]
