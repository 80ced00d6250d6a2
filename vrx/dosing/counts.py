"""Counting wholes in an amount: full loads, closed packages."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

# An amount is a rate times an area, and an area is a rounded sum: so small a part more is none.
_SAME: Final = Fraction(1, 10**9)


def wholes_and_rest(amount: Fraction, each: Fraction) -> tuple[int, Fraction]:
    """Count how often ``each`` goes into an amount, and what is left.

    What differs from whole ones by less than a billionth of itself is whole: nothing is left then.

    Parameters
    ----------
    amount : Fraction
        0 or more.
    each : Fraction
        Above 0, in the same unit.

    Examples
    --------
    >>> [wholes_and_rest(Fraction(text), Fraction(40)) for text in ("120", "120.00000001", "119.9", "0")]
    [(3, Fraction(0, 1)), (3, Fraction(0, 1)), (2, Fraction(399, 10)), (0, Fraction(0, 1))]
    """
    ratio = amount / each
    nearest = round(ratio)
    if nearest and abs(ratio - nearest) <= _SAME * nearest:
        return nearest, Fraction(0)
    whole = ratio.numerator // ratio.denominator
    return whole, amount - whole * each


def wholes_needed(amount: Fraction, each: Fraction) -> int:
    """Count how many of ``each`` an amount takes; a begun one counts."""
    whole, rest = wholes_and_rest(amount, each)
    return whole + (rest > 0)
