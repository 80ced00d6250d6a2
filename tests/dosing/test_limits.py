"""Limits and steps, against exact fractions written down from the rules and against worked numbers."""

from __future__ import annotations

import csv
from fractions import Fraction
from math import floor, isfinite, nextafter
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from support_products import granular, product, unit

from vrx.dosing.limits import REFUSED, Dosed, Limit, Snap, apply_limits, reason_text
from vrx.model.product import Product
from vrx.units import Measure

NO_NUMBER = float("nan")


def dose(wanted: float, of: Product, no_data: Any = "refuse") -> tuple[Fraction | None, Limit, Snap]:
    """Give one rate its limits: the rate, or None where it is refused."""
    dosed = apply_limits(np.array([wanted]), of, no_data=no_data)
    rate = None if dosed.refused[0] else of.rate_of(int(dosed.numbers[0]))
    return rate, Limit(dosed.limit[0]), Snap(dosed.snap[0])


# --- the rules, as fractions: written from the design's text, sharing no code with the module ---------------


def by_the_rules(wanted: float, of: Product, no_data: str) -> Fraction | None:
    """Return the rate that pencil and paper give; None where it is refused."""
    step, low, high = of.step.value, of.in_unit(of.min), of.in_unit(of.max)
    off = Fraction(0) if of.off_allowed else None
    if not isfinite(wanted):
        return _missing(of, no_data, off)
    origin = Fraction(0) if of.step_from == "zero" else low
    if _to_tick(wanted, Fraction(0), step) <= 0:  # negative or exactly 0
        return off
    rate = _to_tick(wanted, origin, step)
    tick = step / 10**9
    if abs(rate - low) <= tick:
        rate = low
    elif abs(rate - high) <= tick:
        rate = high
    if rate < low:
        half = _to_tick(wanted, Fraction(0), step) >= low / 2 - tick
        match of.below_min:
            case "refuse":
                return None
            case "off":
                return off
            case "half" if not half:
                return off
        rate = low
    if rate > high:
        if of.above_max == "refuse":
            return None
        rate = high
    return _snapped(rate, of, origin, low, high)


def _to_tick(wanted: float, origin: Fraction, step: Fraction) -> Fraction:
    tick = step / 10**9
    return origin + floor((Fraction(wanted) - origin) / tick + Fraction(1, 2)) * tick


def _missing(of: Product, no_data: str, off: Fraction | None) -> Fraction | None:
    if no_data == "default":
        lowest = min(rate for rate in _near(of.in_unit(of.min), of) if rate > 0)
        return of.in_unit(of.default) if of.default else (lowest if off is None else off)
    return off if no_data == "off" else None


def _near(rate: Fraction, of: Product) -> list[Fraction]:
    """List the allowed rates around a rate: the step's multiples within min and max."""
    step, low, high = of.step.value, of.in_unit(of.min), of.in_unit(of.max)
    origin = Fraction(0) if of.step_from == "zero" else low
    around = floor((rate - origin) / step)
    multiples = [origin + (around + more) * step for more in range(-2, 4)]
    return [multiple for multiple in multiples if low <= multiple <= high]


def _snapped(rate: Fraction, of: Product, origin: Fraction, low: Fraction, high: Fraction) -> Fraction:
    allowed = sorted({*_near(rate, of), *_near(low, of), *_near(high, of)})
    below = [one for one in allowed if one <= rate]
    above = [one for one in allowed if one >= rate]
    if not below or not above:
        return (below or above[:1])[-1]
    if of.rounding != "nearest":
        return above[0] if of.rounding == "up" else below[-1]
    down, up = rate - below[-1], above[0] - rate
    if down == up:
        return below[-1] if of.use == "crop protection" else above[0]
    return below[-1] if down < up else above[0]


small = st.fractions(min_value=0, max_value=60, max_denominator=1000)


@st.composite
def products(draw: st.DrawFn) -> Product:
    """Draw any product: limits in the unit of the step or in another one, few steps or a million."""
    step_unit = unit("gal/ac")
    limit_unit = draw(st.sampled_from([step_unit, step_unit, unit("L/ha")]))
    step = draw(
        st.sampled_from([Fraction(1), Fraction(1, 10), Fraction(5, 2), Fraction(1, 3)])
        | st.fractions(min_value=Fraction(1, 1000), max_value=50, max_denominator=1000)
    )
    # Limits in steps, so that some rate is allowed as a rule.
    scale = step * step_unit.factor / limit_unit.factor
    low = draw(st.sampled_from([Fraction(0), Fraction(8)]) | small) * scale
    high = low + (1 + draw(small | st.just(Fraction(10**6)))) * scale
    step_from = draw(st.sampled_from(["zero", "min"]))
    return product(
        min=Measure(low, limit_unit),
        max=Measure(high + (scale if low == 0 else 0), limit_unit),
        step=Measure(step, step_unit),
        step_from=step_from,
        use=draw(st.sampled_from(["fertiliser", "crop protection"])),
        rounding=draw(st.sampled_from(["nearest", "up", "down"])),
        below_min=draw(st.sampled_from(["raise", "half", "off", "refuse"])),
        above_max=draw(st.sampled_from(["lower", "refuse"])),
        off_allowed=draw(st.booleans()) if low > 0 else True,
    )


@st.composite
def products_and_rates(draw: st.DrawFn) -> tuple[Product, list[float]]:
    """Draw a product and rates, most of them where a decision falls."""
    of = draw(products())
    step = of.step.value
    places = (
        st.integers(-1, 80).map(lambda n: n * step)
        | st.integers(-1, 160).map(lambda n: n * step / 2)
        | st.integers(0, 80).map(lambda n: of.lowest + n * step / 2)
        | st.sampled_from([of.lowest, of.highest, of.lowest / 2])
        | st.integers(0, 10**6).map(lambda n: n * step / 2)
    )
    nudges = st.sampled_from([0, 0, 1, -1]) | st.fractions(-3, 3, max_denominator=4)
    near = st.tuples(places, nudges).map(lambda pair: float(pair[0] + pair[1] * step / 10**9))
    ulps = near.map(lambda rate: nextafter(rate, 0.0)) | near.map(lambda rate: nextafter(rate, 1e9))
    return of, draw(st.lists(near | ulps | st.floats(), min_size=1, max_size=12))


@settings(max_examples=600, deadline=None)
@given(drawn=products_and_rates(), no_data=st.sampled_from(["refuse", "default", "off"]))
def test_limits_give_what_exact_fractions_give(drawn: tuple[Product, list[float]], no_data: Any) -> None:
    """Every float and every product gets the rate that the written rules give in exact arithmetic."""
    of, wanted = drawn
    dosed = apply_limits(np.array(wanted), of, no_data=no_data)
    given_rates = [
        None if refused else of.rate_of(int(number))
        for number, refused in zip(dosed.numbers, dosed.refused, strict=True)
    ]
    assert given_rates == [by_the_rules(rate, of, no_data) for rate in wanted]


@settings(max_examples=200, deadline=None)
@given(drawn=products_and_rates())
def test_an_allowed_rate_is_left_alone(drawn: tuple[Product, list[float]]) -> None:
    """Limiting twice changes nothing, though a float seldom holds the rate exactly."""
    of, wanted = drawn
    once = apply_limits(np.array(wanted), of, no_data="default")
    kept = ~once.refused
    again = apply_limits(
        np.array([float(of.rate_of(int(number))) for number in once.numbers[kept]]), of, no_data="refuse"
    )
    assert again.numbers.tolist() == once.numbers[kept].tolist()
    assert set(again.limit.tolist()) <= {Limit.NONE, Limit.ZERO}
    assert not again.snap.any()


@settings(max_examples=200, deadline=None)
@given(drawn=products_and_rates())
def test_what_is_given_is_off_or_allowed(drawn: tuple[Product, list[float]]) -> None:
    """No rate leaves that the product does not name as allowed, and none is above max."""
    of, wanted = drawn
    dosed = apply_limits(np.array(wanted), of, no_data="default")
    for number in dosed.numbers[~dosed.refused].tolist():
        assert of.number_of(of.rate_of(number)) == number
        assert of.rate_of(number) <= of.highest


@settings(max_examples=300, deadline=None)
@given(drawn=products_and_rates())
@example(drawn=(product(rounding="down"), [20.000000001, 8.5, 26.0, 7.0]))
def test_the_snap_says_which_way_a_rate_went(drawn: tuple[Product, list[float]]) -> None:
    """Within the limits, UP means that more is given than wanted, DOWN less, NONE the same to a tick."""
    of, wanted = drawn
    dosed = apply_limits(np.array(wanted), of, no_data="refuse")
    for rate, number, limit, snap in zip(wanted, dosed.numbers, dosed.limit, dosed.snap, strict=True):
        if limit == Limit.NONE:
            moved = of.rate_of(int(number)) - Fraction(rate)
            ticks = moved / of.step.value * 10**9
            if snap == Snap.NONE:
                assert abs(ticks) <= Fraction(3, 2)
            else:
                assert ticks * int(snap) > Fraction(-3, 2)


# --- worked numbers -----------------------------------------------------------------------------------------

HALF_UP_AND_DOWN = [
    # Exact arithmetic on the printed decimals: a tie goes up (our rule), or down for crop protection.
    pytest.param("47.3", "5", "45", "45", id="N01a nothing near a tie"),
    pytest.param("47.5", "5", "50", "45", id="N01b a tie"),
    pytest.param("42.5", "5", "45", "40", id="N01c a tie where half-even goes down"),
    pytest.param("10.25", "0.5", "10.5", "10", id="N01d a tie of halves"),
    pytest.param("11.37", "0.1", "11.4", "11.3", id="N01e tenths"),
    pytest.param("33499", "500", "33500", "33000", id="N01f just below a step"),
    pytest.param("33750", "500", "34000", "33500", id="N01g a tie of seeds"),
    pytest.param("0.15", "0.1", "0.2", "0.1", id="N01h a tie that binary numbers miss"),
    pytest.param("2.675", "0.01", "2.68", "2.67", id="N01i a tie that binary numbers miss"),
]


@pytest.mark.parametrize(("wanted", "step", "half_up", "down"), HALF_UP_AND_DOWN)
def test_snapping_gives_what_pencil_and_paper_give(wanted: str, step: str, half_up: str, down: str) -> None:
    """Nearest sends a tie up, and down never goes up; computed exactly on the printed decimals."""
    limits = {"min": f"{step} kg/ha", "max": "100000 kg/ha", "step": f"{step} kg/ha"}
    assert dose(float(wanted), granular(**limits))[0] == Fraction(half_up)
    assert dose(float(wanted), granular(**limits, rounding="down"))[0] == Fraction(down)


@pytest.mark.parametrize(
    ("use", "given"), [pytest.param("fertiliser", 13, id="up"), pytest.param("crop protection", 12, id="down")]
)
def test_a_tie_goes_down_for_crop_protection(use: str, given: int) -> None:
    """A tie goes up, for crop protection down."""
    assert dose(12.5, product(use=use))[0] == given


@pytest.mark.parametrize("wanted", [11.0, 12.0, 12.5, 13.0])
@pytest.mark.parametrize("rounding", ["nearest", "up", "down"])
def test_a_raised_rate_lands_on_an_allowed_one(wanted: float, rounding: str) -> None:
    """N02: min 12.5 at step 5 means 15, however it is rounded; 10 would be below min."""
    of = granular(min="12.5 kg/ha", max="30 kg/ha", step="5 kg/ha", rounding=rounding)
    rate, _, snap = dose(wanted, of)
    assert (rate, snap) == (15, Snap.UP)


def test_the_total_after_snapping() -> None:
    """N05: 40, 60 and 20 ac at 151, 178 and 122 lb/ac and step 5 take 19200 lb instead of 19160."""
    of = granular(min="5 lb/ac", max="300 lb/ac", step="5 lb/ac")
    dosed = apply_limits(np.array([151.0, 178.0, 122.0]), of, no_data="refuse")
    rates = [of.rate_of(int(number)) for number in dosed.numbers]
    assert rates == [150, 180, 120]
    assert sum(rate * acres for rate, acres in zip(rates, (40, 60, 20), strict=True)) == 19200
    assert 40 * 151 + 60 * 178 + 20 * 122 == 19160
    assert dosed.snap.tolist() == [Snap.DOWN, Snap.UP, Snap.DOWN]


def test_binary_noise_does_not_move_a_rate() -> None:
    """0.1 + 0.2 at step 0.1 is 0.3, however it is rounded; 7.25 at step 0.5 is a tie."""
    tenths = {"min": "0.1 kg/ha", "max": "9 kg/ha", "step": "0.1 kg/ha"}
    for rounding in ("nearest", "up", "down"):
        rate, _, snap = dose(0.1 + 0.2, granular(**tenths, rounding=rounding))
        assert (rate, snap) == (Fraction(3, 10), Snap.NONE)
    assert dose(7.25, granular(min="0.5 kg/ha", max="9 kg/ha", step="0.5 kg/ha"))[0] == Fraction(15, 2)


@pytest.mark.parametrize(
    ("wanted", "limit"),
    [
        pytest.param(20.000000001, Limit.NONE, id="one tick above max counts as max"),
        pytest.param(20.0000000011, Limit.NONE, id="rounds to one tick"),
        pytest.param(20.000000002, Limit.ABOVE_REFUSED, id="two ticks above max is above"),
        pytest.param(7.999999999, Limit.NONE, id="one tick below min counts as min"),
        pytest.param(7.999999998, Limit.BELOW_REFUSED, id="two ticks below min is below"),
    ],
)
def test_a_rate_at_a_limit_counts_as_the_limit(wanted: float, limit: Limit) -> None:
    """A wanted rate within 1e-9 of a step of min or max is not outside."""
    of = product(max="20 gal/ac", below_min="refuse", above_max="refuse")
    assert dose(wanted, of)[1:] == (limit, Snap.NONE)


def test_the_shared_case_of_steps(shared: Path) -> None:
    """Each rate of the case comes out as exactly the decimal multiple of its step."""
    import json

    folder = shared / "cases" / "S28-step-snapping"
    expected = json.loads((folder / "case.json").read_text(encoding="utf-8"))["expected"]["values"]["snapped"]
    rounding = {"floor": "down", "ceil": "up", "nearest": "nearest"}
    with (folder / "rates.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(expected) > 0
    for row, snapped in zip(rows, expected, strict=True):
        step = row["step"]
        of = granular(min=f"{step} kg/ha", max="100000 kg/ha", step=f"{step} kg/ha", rounding=rounding[row["mode"]])
        assert dose(float(row["rate"]), of)[0] == Fraction(snapped), row


# --- each rule and its reason -------------------------------------------------------------------------------

NEVER_OFF = {"off_allowed": False}
RULES = [
    pytest.param({}, NO_NUMBER, "refuse", None, Limit.NO_DATA_REFUSED, "no rate in the data: refused", id="missing"),
    pytest.param({}, float("inf"), "off", 0, Limit.NO_DATA_OFF, "no rate in the data: off", id="infinite, off"),
    pytest.param(
        {"default": "14 gal/ac"}, NO_NUMBER, "default", 14, Limit.NO_DATA_DEFAULT,
        "no rate in the data: default of 14 gal/ac", id="missing, default",
    ),
    pytest.param(NEVER_OFF, NO_NUMBER, "off", None, Limit.NO_DATA_REFUSED, "no rate in the data: refused",
                 id="missing, off, but can't be shut off"),
    pytest.param(NEVER_OFF, NO_NUMBER, "default", 8, Limit.NO_DATA_DEFAULT,
                 "no rate in the data: default of 8 gal/ac", id="no default said and can't be shut off"),
    pytest.param({}, -3.0, "refuse", 0, Limit.NEGATIVE_TO_OFF, "no need (below 0): off", id="negative"),
    pytest.param({}, -1e-10, "refuse", 0, Limit.ZERO, "", id="less than a tick below 0 is 0"),
    pytest.param({}, 0.0, "refuse", 0, Limit.ZERO, "", id="zero is never raised"),
    pytest.param({}, -0.0, "refuse", 0, Limit.ZERO, "", id="negative zero is zero"),
    pytest.param(NEVER_OFF, 0.0, "refuse", None, Limit.ZERO_REFUSED,
                 "0 or below 0, and the product can't be shut off: refused", id="zero, can't be shut off"),
    pytest.param(NEVER_OFF, -3.0, "refuse", None, Limit.ZERO_REFUSED,
                 "0 or below 0, and the product can't be shut off: refused", id="negative, can't be shut off"),
    pytest.param({}, 0.5, "refuse", 8, Limit.RAISED, "below the minimum: raised to 8 gal/ac", id="raised"),
    pytest.param({"below_min": "half"}, 3.99, "refuse", 0, Limit.HALF_OFF, "below half of the minimum: off",
                 id="under half of min"),
    pytest.param({"below_min": "half"}, 4.0, "refuse", 8, Limit.RAISED, "below the minimum: raised to 8 gal/ac",
                 id="half of min"),
    pytest.param({"below_min": "half"} | NEVER_OFF, 3.0, "refuse", None, Limit.BELOW_REFUSED,
                 "below the minimum of 8 gal/ac: refused", id="under half of min, can't be shut off"),
    pytest.param({"below_min": "off"}, 7.0, "refuse", 0, Limit.BELOW_OFF, "below the minimum: off", id="below, off"),
    pytest.param({"below_min": "off"} | NEVER_OFF, 7.0, "refuse", None, Limit.BELOW_REFUSED,
                 "below the minimum of 8 gal/ac: refused", id="below, off, can't be shut off"),
    pytest.param({"below_min": "refuse"}, 7.0, "refuse", None, Limit.BELOW_REFUSED,
                 "below the minimum of 8 gal/ac: refused", id="below, refused"),
    pytest.param({}, 31.0, "refuse", 26, Limit.LOWERED, "above the maximum: lowered to 26 gal/ac", id="lowered"),
    pytest.param({"above_max": "refuse"}, 31.0, "refuse", None, Limit.ABOVE_REFUSED,
                 "above the maximum of 26 gal/ac: refused", id="above, refused"),
    pytest.param({}, 17.6, "refuse", 18, Limit.NONE, "rounded up from 17.6 gal/ac", id="rounded up"),
    pytest.param({}, 18.4, "refuse", 18, Limit.NONE, "rounded down from 18.4 gal/ac", id="rounded down"),
    pytest.param({}, 17.9999999, "refuse", 18, Limit.NONE, "rounded up from 17.9999999 gal/ac", id="a hair"),
    pytest.param({}, 18.0, "refuse", 18, Limit.NONE, "", id="an allowed rate"),
]  # fmt: skip


@pytest.mark.parametrize(("keys", "wanted", "no_data", "rate", "limit", "reason"), RULES)
def test_each_rule_has_its_rate_code_and_reason(
    keys: dict[str, Any], wanted: float, no_data: Any, rate: int | None, limit: Limit, reason: str
) -> None:
    """Each rule of the order gives its rate, its code and plain words."""
    of = product(**keys)
    dosed = apply_limits(np.array([wanted]), of, no_data=no_data)
    number = int(dosed.numbers[0])
    assert (None if dosed.refused[0] else of.rate_of(number), dosed.limit[0]) == (rate, limit)
    assert reason_text(int(dosed.limit[0]), int(dosed.snap[0]), wanted, number, of) == reason


@pytest.mark.parametrize("limit", [limit for limit in Limit if limit not in {Limit.NONE, Limit.ZERO}])
def test_every_code_has_words(limit: Limit) -> None:
    """No code that changes a rate goes without a reason."""
    assert reason_text(limit, Snap.NONE, 5.0, 8, product())


def test_a_minimum_of_zero_has_zero_among_the_steps() -> None:
    """With min 0 a rate nearer to 0 than to the first step becomes off; with a min above 0 it is raised."""
    for step_from in ("zero", "min"):
        of = granular(min="0 kg/ha", step_from=step_from)
        assert dose(2.4, of) == (0, Limit.NONE, Snap.DOWN)
        assert dose(2.5, of) == (5, Limit.NONE, Snap.UP)
    assert dose(2.4, granular())[0] == 30


def test_limits_between_steps_hold() -> None:
    """Max 29 at step 5 gives 25 at most, also for a rate that rounds to 30."""
    of = granular(min="10 kg/ha", max="29 kg/ha")
    assert dose(5.0, of) == (10, Limit.RAISED, Snap.NONE)
    assert dose(28.0, of) == (25, Limit.NONE, Snap.DOWN)
    assert dose(29.0, of) == (25, Limit.NONE, Snap.DOWN)
    assert dose(40.0, of) == (25, Limit.LOWERED, Snap.DOWN)


def test_numbers_far_beyond_are_limited_not_wrapped() -> None:
    """The largest and smallest floats end at max, min or off."""
    of = product(min="1 gal/ac", max="1000000 gal/ac", step="0.001 gal/ac")
    wanted = np.array([1.7e308, 1e19, 9.3e18, 4.1e6, -1.7e308, 5e-324, 1e-9])
    dosed = apply_limits(wanted, of, no_data="refuse")
    assert dosed.numbers.tolist() == [10**9] * 4 + [0, 0, 1000]
    assert dosed.limit.tolist() == [Limit.LOWERED] * 4 + [Limit.NEGATIVE_TO_OFF, Limit.ZERO, Limit.RAISED]


def test_no_rates_at_all_are_no_trouble() -> None:
    """An empty array gives empty arrays of the promised types."""
    dosed = apply_limits(np.array([]), product(), no_data="refuse")
    assert (dosed.numbers.dtype, dosed.limit.dtype, dosed.snap.dtype) == (np.int64, np.int8, np.int8)
    assert dosed.numbers.shape == dosed.refused.shape == (0,)


def test_refused_rates_stand_as_off() -> None:
    """The refused ones are marked, and their number is 0."""
    dosed = Dosed(numbers=np.zeros(3, np.int64), limit=np.array([0, *REFUSED[:2]], np.int8), snap=np.zeros(3, np.int8))
    assert dosed.refused.tolist() == [False, True, True]
    assert apply_limits(np.array([NO_NUMBER]), product(), no_data="refuse").numbers.tolist() == [0]


@pytest.mark.benchmark(group="limits")
@pytest.mark.parametrize(
    "keys",
    [
        pytest.param({}, id="few steps"),
        pytest.param({"step": "0.001 gal/ac", "min": "8.1 L/ha", "step_from": "min"}, id="steps from an odd minimum"),
    ],
)
def test_a_hundred_thousand_rates(benchmark: Any, keys: dict[str, Any]) -> None:
    """A benchmark: all rates of a large map at once."""
    wanted = np.random.default_rng(7).uniform(-1, 30, 100_000)
    dosed = benchmark(apply_limits, wanted, product(**keys), no_data="off")
    assert dosed.numbers.shape == wanted.shape
