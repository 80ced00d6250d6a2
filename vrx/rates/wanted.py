"""Wanted rates: what the plan asks for on every polygon of the zone layer, before any limit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from vrx.dosing.conversion import Conversion, conversion_to_product
from vrx.model.layer import BadCell, Numbers
from vrx.model.product import Product
from vrx.units import LARGEST_NUMBER, Measure, Unit

# A decimal of so many digits survives in a 32-bit float. Source: C, FLT_DIG of IEEE 754 binary32; from memory.
_DIGITS_OF_32_BITS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Rates wanted on the polygons of a zone layer.

    Attributes
    ----------
    rates : float64 array, shape (n_polygons,)
        In the unit of the product's step; NaN where there is none.
    inputs : tuple of str
        What each rate was worked out from, as it stood there: ``22 gal/ac``, ``cec_meq 25.2``; empty where nothing.
    values : float64 array, shape (n_polygons,)
        The number among the inputs, where the rate comes from a field of the layer; NaN where there is none.
    bad : tuple of BadCell
        The polygons without a rate, and why.
    sums : tuple of str
        How the rates were converted, in words.
    worked : tuple of str
        The sum that gives each rate, with its numbers put in, where a formula does: ``20 - 2 * 2.4 = 15.2 gal/ac``.
    """

    rates: NDArray[np.float64]
    inputs: tuple[str, ...]
    values: NDArray[np.float64]
    bad: tuple[BadCell, ...]
    sums: tuple[str, ...] = ()
    worked: tuple[str, ...] = ()


def by_table(zones: Sequence[str], table: Mapping[str, Measure], product: Product) -> Wanted:
    """Give every zone the rate that stands beside its name."""
    sums: dict[str, None] = {}
    rate_of = {}
    for name, rate in table.items():
        conversion = _conversion(rate, product)
        rate_of[name] = float(rate.value * conversion.factor)
        sums.update(dict.fromkeys(conversion.steps))
    rates = np.array([rate_of.get(zone, np.nan) for zone in zones], dtype=np.float64)
    bad = tuple(BadCell(index=at, text="", kind="empty") for at, zone in enumerate(zones) if zone not in rate_of)
    return Wanted(
        rates=rates,
        inputs=tuple(str(table[zone]) if zone in table else "" for zone in zones),
        values=np.full(len(zones), np.nan),
        bad=bad,
        sums=tuple(sums),
    )


def by_column(numbers: Numbers, unit: Unit, product: Product) -> Wanted:
    """Take the rate from a field of the zone layer."""
    conversion = conversion_to_product(unit, product)
    # What a plan would refuse as a rate is none in a field of the layer either.
    wild = np.abs(numbers.values) > LARGEST_NUMBER
    values = np.where(wild, np.nan, numbers.values)
    bad = [
        BadCell(index=at, text=f"{numbers.values[at]:g}", kind="not-a-number") for at in np.flatnonzero(wild).tolist()
    ]
    # The factor is exact; one rounding of the product is far below 1e-9 of a step.
    return Wanted(
        rates=values * float(conversion.factor),
        inputs=_written(numbers, after=f" {unit.name}"),
        values=values,
        bad=tuple(sorted((*numbers.bad, *bad), key=lambda cell: cell.index)),
        sums=conversion.steps,
    )


def by_breaks(numbers: Numbers, breaks: Sequence[float], rates: Sequence[Measure], product: Product) -> Wanted:
    """Give every class of a number its rate; a number that equals a break belongs to the class above it.

    A number that is a break once both are held in 32 bits counts as that break.
    """
    values, sums = _in_step_unit(rates, product)
    known = np.isfinite(numbers.values)
    counted = _on_breaks(np.where(known, numbers.values, 0.0), breaks)
    classes = np.searchsorted(np.asarray(breaks), counted, side="right")
    return Wanted(
        rates=np.where(known, values[classes], np.nan),
        inputs=_written(numbers, before=f"{numbers.name} "),
        values=numbers.values,
        bad=numbers.bad,
        sums=sums,
    )


def _on_breaks(values: NDArray[np.float64], breaks: Sequence[float]) -> NDArray[np.float64]:
    """Read 3.299999952316284 as 3.3 where that is a break: it is what 32 bits make of 3.3."""
    with np.errstate(over="ignore"):
        short = values.astype(np.float32)
        for one in breaks:
            # A break with more digits than 32 bits keep is meant to the last of them.
            if float(f"{one:.{_DIGITS_OF_32_BITS}g}") == one:
                values = np.where(short == np.float32(one), one, values)
    return values


def by_line(numbers: Numbers, points: Sequence[tuple[float, Measure]], product: Product) -> Wanted:
    """Read the rate off straight lines between points of a number; beyond the ends the end's rate holds."""
    values, sums = _in_step_unit([rate for _, rate in points], product)
    known = np.isfinite(numbers.values)
    line = np.interp(np.where(known, numbers.values, 0.0), [number for number, _ in points], values)
    return Wanted(
        rates=np.where(known, line, np.nan),
        inputs=_written(numbers, before=f"{numbers.name} "),
        values=numbers.values,
        bad=numbers.bad,
        sums=sums,
    )


def _written(numbers: Numbers, *, before: str = "", after: str = "") -> tuple[str, ...]:
    return tuple(f"{before}{value:.10g}{after}" if value == value else "" for value in numbers.values.tolist())  # noqa: PLR0124 - NaN


def _conversion(rate: Measure, product: Product) -> Conversion:
    """Return how a rate is converted; nothing is nothing in every unit, whatever the product is metered in."""
    return conversion_to_product(rate.unit, product) if rate.value else Conversion(factor=Fraction(0))


def _in_step_unit(rates: Sequence[Measure], product: Product) -> tuple[NDArray[np.float64], tuple[str, ...]]:
    conversions = [_conversion(rate, product) for rate in rates]
    values = [float(rate.value * one.factor) for rate, one in zip(rates, conversions, strict=True)]
    return np.array(values), tuple(dict.fromkeys(step for one in conversions for step in one.steps))
