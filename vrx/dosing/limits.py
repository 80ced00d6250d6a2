"""Allowed rates: a wanted rate brought within what the product and the machine can do, exactly.

The order is the one of the plan's documentation: missing, negative, exactly 0, below min, above max, then
snapped onto an allowed rate. A wanted rate is first rounded to 1e-9 of a step (a *tick*), counted from
where the product's steps count from; from there on everything is whole numbers. A rate within one tick of
min, of half of min, or of max counts as that limit. So the rounding of binary numbers never moves a rate.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from fractions import Fraction
from math import ceil, floor
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from vrx.model.product import Product
from vrx.units import decimals_needed

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Codes = NDArray[np.int8]

_TICKS: Final = 10**9
# Ticks stop here, far above the highest rate that a product may have; twice this still fits into int64.
_MOST_TICKS: Final = 4 * 10**18
# Bounds the error of one float64 multiplication, addition and two rounded constants, doubled.
_FLOAT_ERROR: Final = 2.0**-50


class Limit(IntEnum):
    """What the limits did to a wanted rate."""

    NONE = 0
    NO_DATA_DEFAULT = 1
    NO_DATA_OFF = 2
    NO_DATA_REFUSED = 3
    NEGATIVE_TO_OFF = 4
    ZERO = 5
    ZERO_REFUSED = 6
    RAISED = 7
    HALF_OFF = 8
    BELOW_OFF = 9
    BELOW_REFUSED = 10
    LOWERED = 11
    ABOVE_REFUSED = 12


class Snap(IntEnum):
    """Which way a rate, already within the limits, moved onto an allowed one."""

    NONE = 0
    UP = 1
    DOWN = -1


REFUSED: Final = (Limit.NO_DATA_REFUSED, Limit.ZERO_REFUSED, Limit.BELOW_REFUSED, Limit.ABOVE_REFUSED)


@dataclass(frozen=True, slots=True)
class Dosed:
    """Wanted rates brought onto allowed ones; all arrays have the shape of the wanted rates.

    Attributes
    ----------
    numbers : int64 array
        Step numbers as in :meth:`Product.rate_of`; 0 is off, and also stands where a rate is refused.
    limit : int8 array
        A :class:`Limit` each.
    snap : int8 array
        A :class:`Snap` each. A raised or lowered rate is snapped from the limit, not from the wanted rate.
    """

    numbers: Ints
    limit: Codes
    snap: Codes

    @property
    def refused(self) -> Flags:
        """Which rates can't be given; the field can't be treated until a person settles them."""
        return np.isin(self.limit, REFUSED)


def apply_limits(wanted: Floats, product: Product, *, no_data: Literal["refuse", "default", "off"]) -> Dosed:
    """Bring wanted rates onto rates that the product allows.

    Parameters
    ----------
    wanted : float64 array
        In the unit of the product's step. NaN and infinite are missing.
    product : Product
        With its limits, steps and rounding.
    no_data : {"refuse", "default", "off"}
        What a missing rate becomes.

    Returns
    -------
    Dosed
        The same as exact fractions give, for every float.

    Notes
    -----
    A product with ``min`` 0 has 0 among its allowed rates, so a rate nearer to 0 than to the first step
    becomes off; with a ``min`` above 0 snapping never shuts off.

    Examples
    --------
    Missing, negative, zero, below, a tie, above:

    >>> apply_limits(np.array([np.nan, -3, 0, 5, 12.5, 31]), product, no_data="off").numbers  # doctest: +SKIP
    array([ 0,  0,  0,  8, 13, 26])
    """
    values = np.asarray(wanted, dtype=np.float64)
    missing = ~np.isfinite(values)
    known = np.where(missing, 0.0, values)
    from_zero = _ticks(known, Fraction(0), product.step.value)
    from_base = from_zero if product.base == 0 else _ticks(known, product.base, product.step.value)
    limit = _limits(missing, from_zero, from_base, product, no_data)
    numbers, snap = _snapped(from_base, product)
    fixed_numbers, fixed_snap = _fixed(product)
    free = limit == Limit.NONE
    return Dosed(
        numbers=np.where(free, numbers, fixed_numbers[limit]),
        limit=limit,
        snap=np.where(free, snap, fixed_snap[limit]),
    )


def reason_text(limit: int, snap: int, wanted: float, number: int, product: Product) -> str:
    """Say in plain words what was done to one wanted rate; empty where nothing changed.

    Parameters
    ----------
    limit, snap, number : int
        The elements of a :class:`Dosed`.
    wanted : float
        In the unit of the product's step.
    """
    given = product.rate_text(number)
    if limit == Limit.NONE and snap != Snap.NONE:
        way = "up" if snap == Snap.UP else "down"
        return f"rounded {way} from {_wanted_text(wanted, number, product)}"
    return {
        Limit.NONE: "",
        Limit.ZERO: "",
        Limit.NO_DATA_DEFAULT: f"no rate in the data: default of {given}",
        Limit.NO_DATA_OFF: "no rate in the data: off",
        Limit.NO_DATA_REFUSED: "no rate in the data: refused",
        Limit.NEGATIVE_TO_OFF: "no need (below 0): off",
        Limit.ZERO_REFUSED: "0 or below 0, and the product can't be shut off: refused",
        Limit.RAISED: f"below the minimum: raised to {given}",
        Limit.HALF_OFF: "below half of the minimum: off",
        Limit.BELOW_OFF: "below the minimum: off",
        Limit.BELOW_REFUSED: f"below the minimum of {product.min}: refused",
        Limit.LOWERED: f"above the maximum: lowered to {given}",
        Limit.ABOVE_REFUSED: f"above the maximum of {product.max}: refused",
    }[Limit(limit)]


def _wanted_text(wanted: float, number: int, product: Product) -> str:
    given = float(product.rate_of(number))
    decimals = decimals_needed(product.step.value) + 2
    # "rounded up from 18 to 18" would explain nothing
    while decimals < 13 and round(wanted, decimals) == given:
        decimals += 1
    text = f"{wanted:.{decimals}f}"
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text} {product.unit.name}"


def _limits(missing: Flags, from_zero: Ints, from_base: Ints, product: Product, no_data: str) -> Codes:
    low, high = _in_ticks(product.lowest - product.base, product), _in_ticks(product.highest - product.base, product)
    half = _in_ticks(product.lowest / 2, product)
    below = from_base < ceil(low - 1)
    below_code, half_code = _below(product)
    found = np.select(
        [
            missing,
            from_zero < 0,
            from_zero == 0,
            below & (from_zero < ceil(half - 1)),
            below,
            from_base > floor(high + 1),
        ],
        [
            _missing(product, no_data),
            Limit.NEGATIVE_TO_OFF if product.off_allowed else Limit.ZERO_REFUSED,
            Limit.ZERO if product.off_allowed else Limit.ZERO_REFUSED,
            half_code,
            below_code,
            Limit.LOWERED if product.above_max == "lower" else Limit.ABOVE_REFUSED,
        ],
        Limit.NONE,
    )
    return found.astype(np.int8)


def _missing(product: Product, no_data: str) -> Limit:
    if no_data == "default":
        return Limit.NO_DATA_DEFAULT
    return Limit.NO_DATA_OFF if no_data == "off" and product.off_allowed else Limit.NO_DATA_REFUSED


def _below(product: Product) -> tuple[Limit, Limit]:
    """Return what becomes of a rate below min, and of one below half of min."""
    if product.below_min == "raise":
        return Limit.RAISED, Limit.RAISED
    if product.below_min == "half":
        return Limit.RAISED, Limit.HALF_OFF if product.off_allowed else Limit.BELOW_REFUSED
    code = Limit.BELOW_OFF if product.below_min == "off" and product.off_allowed else Limit.BELOW_REFUSED
    return code, code


def _snapped(ticks: Ints, product: Product) -> tuple[Ints, Codes]:
    """Snap ticks from the base, assumed within the limits, onto allowed step numbers."""
    # Where min is 0, so is the rate of the number below the first one: an allowed rate, namely off.
    bottom = product.first if product.lowest > 0 else product.first - 1
    numbers = np.clip(_rounded(ticks, product), bottom, product.last)
    snap = np.sign(numbers * _TICKS - ticks)
    for edge, number, way in (
        (product.lowest, bottom, Snap.UP),
        (product.highest, product.last, Snap.DOWN),
    ):
        at_edge = _in_ticks(edge - product.base, product)
        counts_as_edge = (ticks >= ceil(at_edge - 1)) & (ticks <= floor(at_edge + 1))
        numbers = np.where(counts_as_edge, number, numbers)
        snap = np.where(counts_as_edge, Snap.NONE if product.base + number * product.step.value == edge else way, snap)
    return np.where(numbers < product.first, 0, numbers), snap.astype(np.int8)


def _rounded(ticks: Ints, product: Product) -> Ints:
    if product.rounding == "up":
        return -(-ticks // _TICKS)
    if product.rounding == "down":
        return ticks // _TICKS
    if product.use == "crop protection":  # a tie goes down: never more than the label's rate by rounding
        return -((_TICKS - 2 * ticks) // (2 * _TICKS))
    return (2 * ticks + _TICKS) // (2 * _TICKS)


def _fixed(product: Product) -> tuple[Ints, Codes]:
    """Return number and snap of each limit that leaves nothing to round, as arrays by its code."""
    numbers, snap = np.zeros(len(Limit), dtype=np.int64), np.zeros(len(Limit), dtype=np.int8)
    numbers[Limit.NO_DATA_DEFAULT] = product.number_where("default")
    # No allowed rate lies between min and the first one, nor between the last one and max.
    numbers[Limit.RAISED], numbers[Limit.LOWERED] = product.first, product.last
    snap[Limit.RAISED] = Snap.UP if product.rate_of(product.first) > product.lowest else Snap.NONE
    snap[Limit.LOWERED] = Snap.DOWN if product.rate_of(product.last) < product.highest else Snap.NONE
    return numbers, snap


def _in_ticks(rate: Fraction, product: Product) -> Fraction:
    return rate / product.step.value * _TICKS


def _ticks(values: Floats, base: Fraction, step: Fraction) -> Ints:
    """Count each value from ``base`` in 1e-9 of a step, half up, exactly; held within +-4e18."""
    slope, shift = _TICKS / step, Fraction(1, 2) - base / step * _TICKS
    with np.errstate(over="ignore", under="ignore"):
        scaled = np.clip(values * float(slope), -4.0 * _MOST_TICKS, 4.0 * _MOST_TICKS)
    sums = scaled + float(shift)
    error = _FLOAT_ERROR * (np.abs(scaled) + abs(float(shift)) + 1)
    low, high = np.floor(sums - error), np.floor(sums + error)
    beyond = np.abs(scaled) > 2.0 * _MOST_TICKS
    close = (low != high) & ~beyond
    counts = np.clip(np.where(beyond | close, np.sign(values) * _MOST_TICKS, low), -_MOST_TICKS, _MOST_TICKS)
    found = counts.astype(np.int64)
    if close.any():
        found[close] = _exact_ticks(values[close].tolist(), slope, shift)
    return found


def _exact_ticks(values: list[float], slope: Fraction, shift: Fraction) -> list[int]:
    factor = slope.numerator * shift.denominator
    offset = shift.numerator * slope.denominator
    divisor = slope.denominator * shift.denominator
    counts = []
    for over, under in (value.as_integer_ratio() for value in values):
        count = (over * factor + offset * under) // (divisor * under)
        counts.append(max(-_MOST_TICKS, min(_MOST_TICKS, count)))
    return counts
