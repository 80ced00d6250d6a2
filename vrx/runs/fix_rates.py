"""Rates of a mended map: as they stand in the file to the last digit, or brought onto the steps of the product.

Nothing here chooses a rate for a person: what the product and machine can give is taken where the map comes nearest to
it, and only where little is moved. See docs/decisions/fixing-maps.md.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

import numpy as np
from numpy.typing import NDArray

from vrx.checks.telling import largest_first, size_text
from vrx.dosing.amounts import amount_per_m2
from vrx.dosing.limits import apply_limits, reason_text
from vrx.errors import InputError, Problems
from vrx.exports.limits import MOST_DIGITS
from vrx.model.check import Check
from vrx.model.checked_map import CheckedMap
from vrx.model.sheet import RateColumn
from vrx.units import Unit, amount_text, decimals_needed, rate_number_text
from vrx.words import some

MOST_MOVED: Final = 0.02
"""Of the product's total: more is for whoever planned the rates (our own rule, common practice, no source)."""

OPEN: Final = ("rate-unit-suspect", "other-field", "product-unknown", "product-form-mismatch", "crop-mismatch")
"""While one of these is among the findings nobody knows which rates are right."""

_ROUNDED: Final = 1e-12  # of a rate: what a digit beyond those that readers keep may be
_EXACT_DECIMALS: Final = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class MendedRates:
    """A rate for each record, as decimals; None where a record has none.

    Attributes
    ----------
    unit : Unit, optional
        None where nobody says one.
    """

    rates: tuple[Decimal | None, ...]
    unit: Unit | None
    changes: tuple[str, ...] = ()


def rates_as_they_are(on: CheckedMap, kept: NDArray[np.int64]) -> MendedRates:
    """Return the rates of a map as its file has them.

    Parameters
    ----------
    kept : int64 array
        Positions of the records that go into the mended map.

    Raises
    ------
    InputError
        One of these records has no number for a rate.
    """
    numbers = on.the_rates.numbers
    bad = {one.index: one.text for one in numbers.bad}
    wrong = [at for at in np.unique(kept).tolist() if not np.isfinite(numbers.values[at])]
    if wrong:
        listed = some(f"{on.called(at)} ({bad[at]})" if bad.get(at) else f"{on.called(at)} (empty)" for at in wrong)
        raise InputError(
            f"A written map needs a rate in every shape, and column {on.the_rates.column} holds none in {listed}.",
            remedy="Have a rate given to these, 0 to shut off, and check the map again.",
            where=on.source.name,
        )
    # The shortest decimals that read back to the number: 112.340000000000003 is what a double makes of 112.34.
    rates = tuple(Decimal(repr(one)) if np.isfinite(one) else None for one in numbers.values.tolist())
    return MendedRates(rates=rates, unit=on.the_rates.unit)


def rates_in_steps(check: Check, kept: MendedRates, area_m2: NDArray[np.float64]) -> MendedRates:
    """Bring rates onto the steps of the product and within its limits, in the unit in which it is metered.

    Parameters
    ----------
    kept : MendedRates
        As they are; those that the product allows stay as they are written.
    area_m2 : float64 array, shape (n_records,)
        The ground of each record in the mended map.

    Raises
    ------
    VrxError
        Something is open that decides which rates are right, a rate is one that the product's plan refuses, or the
        total would move by more than `MOST_MOVED`.
    """
    on = check.on
    _refuse_open(check)
    product, factor = on.the_product, on.the_rates.per_step_unit
    if factor is None:
        raise InputError(
            f"The rates of the map can't be held against the steps of {product.name}: {on.the_rates.incomparable}",
            remedy="Say their unit with --unit.",
            where=on.source.name,
        )
    wanted = on.the_rates.rates
    there = np.array([one is not None for one in kept.rates]) & (area_m2 > 0)
    change = np.flatnonzero(there & (on.the_rates.step_numbers < 0))
    dosed = apply_limits(wanted[change], product, no_data="refuse")
    _refuse_refused(on, change[dosed.refused], [
        reason_text(int(limit), 0, float(rate), 0, product)
        for limit, rate in zip(dosed.limit[dosed.refused], wanted[change][dosed.refused], strict=True)
    ])  # fmt: skip
    numbers = on.the_rates.step_numbers.copy()
    numbers[change] = dosed.numbers
    # In another unit every rate is another number, also one that the product allows.
    anew = np.flatnonzero(there) if kept.unit != product.unit else change
    given = {at: product.rate_of(int(numbers[at])) for at in anew.tolist()}
    _refuse_much(on, given, area_m2)
    rates = list(kept.rates)
    for at, rate in given.items():
        rates[at] = _written(rate, product.step.value)
    return MendedRates(
        rates=tuple(rates), unit=product.unit, changes=tuple(_changes_text(on, kept, rates, given, area_m2))
    )


def rate_column(
    name: str, rates: Sequence[Decimal], unit: Unit | None, on: CheckedMap
) -> tuple[RateColumn, tuple[str, ...]]:
    """Lay out rates as a column, and say where a number has more digits than readers keep.

    Raises
    ------
    InputError
        The rates do not fit into one column of `MOST_DIGITS` digits.
    """
    most = max((_decimals(rate) for rate in rates), default=0)
    ahead = max((max(rate.copy_abs().adjusted() + 1, 1) for rate in rates), default=1)
    decimals = max(min(most, MOST_DIGITS - ahead), 0)
    counts = [_half_up(Fraction(rate) * 10**decimals) for rate in rates]
    moved = [at for at, rate in enumerate(rates) if Fraction(counts[at], 10**decimals) != Fraction(rate)]
    amiss = [at for at in moved if abs(Fraction(counts[at], 10**decimals) / Fraction(rates[at]) - 1) > _ROUNDED]
    if amiss or ahead > MOST_DIGITS:
        raise InputError(
            f"Rates such as {rates[amiss[0] if amiss else 0]} and {max(rates)} do not fit into one column of "
            f"{MOST_DIGITS} digits.",
            remedy="Have the rates rounded to what the machine can give.",
            where=on.source.name,
        )
    column = RateColumn(
        name=name,
        product="" if on.product is None else on.product.name,
        unit="" if unit is None else unit.name,
        counts=np.array(counts, dtype=np.int64),
        decimals=decimals,
        step_numbers=np.zeros(len(counts), dtype=np.int64),
    )
    if not moved:
        return column, ()
    listed = some(dict.fromkeys(f"{rates[at]} as {column.rate_text(at)}" for at in moved), most=4)
    return column, (f"Rates have {MOST_DIGITS} digits at most, as many as any reader keeps: {listed}.",)


def _refuse_open(check: Check) -> None:
    on = check.on
    found = [one for one in check.findings if one.id in OPEN]
    if found:
        raise Problems(
            InputError(
                f"The rates are left alone while {one.id} is open: {one.message}",
                remedy=one.remedy or "Settle this first.",
                where=on.source.name,
            )
            for one in found
        )
    if on.product is None:
        raise InputError(
            "It is not known for which product the rates are, so nobody knows its steps.",
            remedy="Name it with --product, or the plan with --plan.",
            where=on.source.name,
        )


def _refuse_refused(on: CheckedMap, refused: NDArray[np.int64], reasons: Sequence[str]) -> None:
    if len(refused):
        rates = on.the_rates.numbers.values
        listed = some(
            f"{on.called(at)} with {rate_number_text(float(rates[at]))} ({why.removesuffix(': refused')})"
            for at, why in zip(refused.tolist(), reasons, strict=True)
        )
        raise InputError(
            f"{on.the_product.name} can't be given at every rate of the map: {listed}.",
            remedy="Ask the adviser which rates are meant there.",
            where=on.source.name,
        )


def _refuse_much(on: CheckedMap, given: dict[int, Fraction], area_m2: NDArray[np.float64]) -> None:
    product, rates = on.the_product, on.the_rates.rates
    per_m2 = float(amount_per_m2(product.unit))
    before = float(np.nansum(np.where(area_m2 > 0, rates, 0.0) * area_m2)) * per_m2
    after = before + sum(_more(rate, float(rates[at]), float(area_m2[at])) for at, rate in given.items()) * per_m2
    if abs(after - before) > MOST_MOVED * abs(before):
        share = f"{100 * (after - before) / before:+.1f} %" if before else "from nothing"
        unit = product.unit.amount
        raise InputError(
            f"In steps and limits of {product.name} the map would take {amount_text(after)} {unit} and not "
            f"{amount_text(before)}: {amount_text(after - before, sign=True)} {unit} ({share}); more than "
            f"{100 * MOST_MOVED:.0f} % is not moved unasked.",
            remedy="Ask the adviser: the map may be for another product or unit, or the limits may have changed.",
            where=on.source.name,
        )


def _more(rate: Fraction, before: float, area_m2: float) -> float:
    return (float(rate) - before) * area_m2


def _changes_text(
    on: CheckedMap,
    kept: MendedRates,
    rates: Sequence[Decimal | None],
    given: dict[int, Fraction],
    area_m2: NDArray[np.float64],
) -> Iterator[str]:
    """Yield each changed rate: from, to, ground and amount, the largest ground first."""
    product = on.the_product
    per_m2, unit = float(amount_per_m2(product.unit)), product.unit.name
    was = ""
    if kept.unit is not None and kept.unit != product.unit:
        was = f" {kept.unit.name}"
        yield (
            f"Rates are in {unit} now, the unit of the steps of {product.name}; they were in{was}. Set the display to "
            f"{unit}."
        )
    groups: dict[tuple[Decimal | None, Decimal | None], list[int]] = {}
    for at in given:
        groups.setdefault((kept.rates[at], rates[at]), []).append(at)
    sized = sorted(groups.items(), key=lambda one: -float(area_m2[one[1]].sum()))
    told, rest = largest_first(sized)
    for (old, new), mine in told:
        size, amount = _sums(on, given, mine, area_m2)
        yield (
            f"Rate {_plain(old)}{was} becomes {_plain(new)} {unit} in {some(map(on.called, mine), most=6)}, on "
            f"{size_text(size, on)}: {amount_text(amount * per_m2, sign=True)} {product.unit.amount}."
        )
    if rest:
        size, amount = _sums(on, given, [at for _, mine in rest for at in mine], area_m2)
        yield (
            f"{len(rest)} more rates the same way, on {size_text(size, on)}: "
            f"{amount_text(amount * per_m2, sign=True)} {product.unit.amount}."
        )


def _sums(
    on: CheckedMap, given: dict[int, Fraction], mine: Sequence[int], area_m2: NDArray[np.float64]
) -> tuple[float, float]:
    rates = on.the_rates.rates
    size = float(area_m2[list(mine)].sum())
    return size, sum(_more(given[at], float(rates[at]), float(area_m2[at])) for at in mine)


def _written(rate: Fraction, step: Fraction) -> Decimal:
    """Return a rate with decimals that write it exactly, or its last one at most a twentieth of a step."""
    decimals = decimals_needed(rate, most=_EXACT_DECIMALS + 1)
    if decimals > _EXACT_DECIMALS:
        decimals = 0
        while Fraction(1, 10**decimals) > step / 20:
            decimals += 1
    return Decimal(_half_up(rate * 10**decimals)).scaleb(-decimals)


def _decimals(rate: Decimal) -> int:
    exponent = rate.normalize().as_tuple().exponent
    return max(-exponent, 0) if isinstance(exponent, int) else 0


def _plain(rate: Decimal | None) -> str:
    return "none" if rate is None else f"{rate.normalize():f}"


def _half_up(value: Fraction) -> int:
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)
