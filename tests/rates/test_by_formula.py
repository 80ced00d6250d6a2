"""Rates by a formula: the arithmetic against exact fractions, zones without a rate, and what people are told."""

from __future__ import annotations

import ast
import re
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from fractions import Fraction
from math import ceil, floor, isnan
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from simpleeval import InvalidExpression
from support_formula import TEXTS
from support_products import granular, product, unit
from support_zone_maps import HA, borders_of, plan_of, zone_map

from vrx.errors import PlanError, UnitError
from vrx.formula import Formula, Word, read_formula
from vrx.model.layer import BadCell, Numbers
from vrx.model.plan import NoData
from vrx.rates.by_formula import by_formula
from vrx.rates.rated import Rated, rate_product
from vrx.rates.wanted import Wanted

LB_AC = granular(min="1 lb/ac", max="900 lb/ac", step="1 lb/ac")


def column(name: str, *values: float | None, **bad: Any) -> Numbers:
    """Numbers of a field; None is an empty cell."""
    cells = tuple(BadCell(index=at, text="", kind="empty") for at, value in enumerate(values) if value is None)
    return Numbers(name=name, values=np.array([np.nan if one is None else one for one in values]), bad=cells)


def worked(text: str, constants: Mapping[str, float] | None = None, **fields: Any) -> Wanted:
    """Work out a formula in lb/ac on polygons with these numbers."""
    columns = {
        name: column(name, *(values if isinstance(values, list) else [values])) for name, values in fields.items()
    }
    count = len(next(iter(columns.values())).values) if columns else 1
    return by_formula(read_formula(text), columns, constants or {}, unit("lb/ac"), LB_AC, count=count)


def result(text: str, **fields: float) -> float:
    return float(worked(text, **fields).rates[0])


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param("2 + 3 * 4 ** 2 / 8 - 1", 7, id="powers before products before sums"),
        pytest.param("-2 ** 2", -4, id="a power binds before its sign"),
        pytest.param("2 ** 3 ** 2", 512, id="powers from the right"),
        pytest.param("8 ** (1 / 3)", 2, id="a cube root"),
        pytest.param("7 - 2 - 1", 4, id="sums from the left"),
        pytest.param("min(3, 1, 2) + max(4, 6) + abs(-5)", 12, id="least, most, size"),
        pytest.param("sqrt(6.25)", 2.5, id="a root"),
        pytest.param("ln(exp(2))", 2, id="the natural logarithm"),
        pytest.param("log10(1000)", 3, id="base 10"),
        pytest.param("round(2.5)", 3, id="a tie as on paper, not to the even one"),
        pytest.param("round(-2.5)", -3, id="away from 0 below it"),
        pytest.param("round(2.675, 2)", 2.68, id="a tie that binary numbers lose"),
        pytest.param("floor(-1.2) + ceil(-1.2)", -3, id="down and up"),
        pytest.param("ceil((0.1 + 0.2) * 10)", 3, id="tenths that binary numbers lose"),
        pytest.param("floor(1 / 3 * 3)", 1, id="thirds make a whole"),
        pytest.param("ceil(1 / 3 + 1 / 3 + 1 / 3 - 1)", 0, id="and leave nothing"),
        pytest.param("2 if 0.1 + 0.2 == 0.3 else 1", 2, id="equal as on paper"),
        pytest.param("2 if 1 / 3 * 3 < 1 else 1", 1, id="thirds are not less than one"),
        pytest.param("1 if 3 > 2 > 1 and not 2 > 3 or 1 == 2 else 0", 1, id="conditions"),
        pytest.param("5 if 1 != 1 else 6 if 1 >= 1 else 7", 6, id="choices in a row"),
        pytest.param("1 if 2 > 1 else 1 / 0", 1, id="only what is chosen is worked out"),
    ],
)
def test_arithmetic_is_that_of_pencil_and_paper(text: str, expected: float) -> None:
    assert result(text) == pytest.approx(expected, rel=1e-15)


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        pytest.param(float(np.float32(3.3)), 2, id="3.3 in 32 bits"),
        pytest.param(3.29999995232, 2, id="that, written with eleven decimals"),
        pytest.param(3.2999996, 1, id="the number of 32 bits below it"),
        pytest.param(3.3, 2, id="3.3"),
    ],
)
def test_a_number_of_32_bits_is_the_one_that_was_entered(number: float, expected: float) -> None:
    """Many programs write 3.3 as 3.299999952316284; a comparison takes it as breaks do."""
    assert result("2 if om >= 3.3 else 1", om=number) == expected


@pytest.mark.parametrize("number", [1234567.8, 16777217.0, 1e-40, 0.0, -0.0, 1e29])
def test_other_numbers_stay_as_they_are(number: float) -> None:
    """More digits than 32 bits keep are used to the last of them."""
    assert result("om / 1e20", om=number) == pytest.approx(number / 1e20, rel=1e-15)


# ---- exact fractions: Python's own parser and its Fraction do the same sum, another way


def fractions_of(text: str, names: Mapping[str, float]) -> Fraction:
    """Work out a formula with Python's fractions: numbers are taken as decimals, without a rounding anywhere."""
    exact = re.sub(r"(?<![\w.])(\d+\.?\d*)", r"Fraction('\1')", text)
    known = {"Fraction": Fraction, "min": min, "max": max, "abs": abs, "floor": floor, "ceil": ceil}
    return Fraction(eval(exact, {"__builtins__": {}}, known | {key: Fraction(repr(one)) for key, one in names.items()}))


NUMBERS = st.one_of(st.integers(0, 300).map(str), st.decimals("0.01", "250", places=2).map(str), st.sampled_from("abc"))


def _sums(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    two = st.tuples(inner, inner)
    compare = st.tuples(inner, st.sampled_from(["<", "<=", ">", ">=", "==", "!="]), inner).map(" ".join)
    return st.one_of(
        st.tuples(inner, st.sampled_from([" + ", " - ", " * ", " / "]), inner).map("".join),
        inner.map("({})".format),
        inner.map("-{}".format),
        st.tuples(st.sampled_from("abc"), st.integers(0, 4)).map(lambda pair: f"{pair[0]} ** {pair[1]}"),
        st.tuples(st.sampled_from(["min", "max"]), two).map(lambda one: f"{one[0]}({one[1][0]}, {one[1][1]})"),
        st.tuples(st.sampled_from(["abs", "floor", "ceil"]), inner).map(lambda one: f"{one[0]}({one[1]})"),
        st.tuples(inner, compare, inner).map(lambda one: f"({one[0]} if {one[1]} else {one[2]})"),
    )


@given(
    st.recursive(NUMBERS, _sums, max_leaves=14),
    st.fixed_dictionaries({name: st.decimals("0.01", "99", places=2).map(float) for name in "abc"}),
)
@settings(max_examples=1500)
def test_random_formulas_agree_with_exact_fractions(text: str, names: dict[str, float]) -> None:
    """To 12 digits of the largest number that a formula of this size can meet on its way."""
    try:
        exact = fractions_of(text, names)
    except ZeroDivisionError:
        exact = None
    try:
        formula = read_formula(text)
    except PlanError as err:
        assert "too deep" in str(err) or "too long" in str(err)  # noqa: PT017 - all other texts read
        return
    used = {name: names[name] for name in formula.names}
    found = worked(text, **used)
    if exact is None:
        assert isnan(found.rates[0])
        return
    assume(abs(exact) < 10**15)
    assert found.rates[0] == pytest.approx(float(exact), rel=1e-12, abs=1e-12)


# ---- nothing runs


WATCHED = ("exec", "import", "open", "os.", "subprocess.", "socket.", "object.__getattr__", "ctypes.", "shutil.")
_armed: list[str] | None = None


def _hook(event: str, args: tuple[Any, ...]) -> None:
    if _armed is not None and event.startswith(WATCHED):
        _armed.append(f"{event} {args!r}"[:200])


@contextmanager
def watched() -> Iterator[list[str]]:
    """List what Python reports that it runs, imports or opens meanwhile (PEP 578)."""
    global _armed  # noqa: PLW0603 - an audit hook can't be taken out again, so it is switched
    if not getattr(sys, "_vrx_formula_hook", False):
        sys.addaudithook(_hook)
        sys._vrx_formula_hook = True  # type: ignore[attr-defined]
    _armed = heard = []
    try:
        yield heard
    finally:
        _armed = None


def test_the_watch_hears_code_that_runs() -> None:
    """The check that follows can fail."""
    with watched() as heard:
        eval("1 + 1")
    assert heard


@pytest.mark.parametrize(
    "text", ["om.real", "om[0]", "f'{om}'", "[om]", "(lambda: 1)()", "om // 2", "om if om in om else 1"]
)
def test_what_the_reader_would_let_through_the_evaluator_refuses(text: str) -> None:
    """There are two walls: a tree made past the reader is not worked out either."""
    formula = Formula(text=text, words=(Word("name", "om", 0, 2),), tree=ast.parse(text, mode="eval").body)
    with pytest.raises((InvalidExpression, KeyError)):
        by_formula(formula, {"om": column("om", 2.0)}, {}, unit("lb/ac"), LB_AC, count=1)


@given(TEXTS)
@example("__import__('os').system('echo')")
@example("om.__class__.__mro__[1].__subclasses__()")
@example("9 ** 9 ** 9 ** 9 ** 9")
@example("1e99 ** 1e99")
@example("(1 + 1e-30) ** 1e99")
@example("exp(exp(exp(om)))")
@example("round(1e99, 9) + floor(1e99) + ceil(-1e99)")
@example("om ** .1 ** .1 ** .1 ** .1 ** .1 ** .1 ** .1 ** .1 ** .1")
@settings(max_examples=1500)
def test_no_text_runs_code_or_hangs(text: str) -> None:
    """Whatever a plan says as a formula: an error, or rates and reasons, within a second, with nothing run."""
    worked("sqrt(4)")  # everything that is loaded once is loaded
    start = time.process_time()
    with watched() as heard:
        try:
            formula = read_formula(text)
        except PlanError:
            formula = None
        if formula is not None:
            fields = {name: column(name, 0.0, 2.5, -1.0, 1e29) for name in formula.names}
            found = by_formula(formula, fields, {}, unit("lb/ac"), LB_AC, count=4)
    assert heard == []
    assert time.process_time() - start < 1.0
    if formula is not None:
        bad = {cell.index for cell in found.bad}
        assert all((at in bad) is isnan(rate) for at, rate in enumerate(found.rates.tolist()))
        assert (np.abs(found.rates[~np.isnan(found.rates)]) <= 1e15).all()


def test_thousands_of_zones_take_a_fraction_of_a_second() -> None:
    """The formula is worked out once for each set of numbers: 20,000 zones of 50 sets take as long as 50 and a loop."""
    values = (np.arange(20_000) % 50 / 10).tolist()
    text = "max(0, 35 + 1.2 * y - 8 * om - 0.14 * y * min(max(om, 0.5), 3)) + om ** 0.7"
    worked(text, om=[1.0], y=[1.0])
    start = time.process_time()
    found = worked(text, om=values, y=[180.0] * len(values))
    assert time.process_time() - start < 0.5
    assert len(set(found.rates.tolist())) == len(set(found.worked)) == 50


# ---- units, inputs, and zones without a rate


@pytest.mark.source("UNL CropWatch, Setting the Sprayer Flow Rate for Non-Water Solutions (2016)", "Example 2")
def test_75_lb_of_nitrogen_is_25_15_gallons() -> None:
    """F24: 75 lb N/ac of a 28 % solution of 10.65 lb/gal is 25.151 gal/ac, as by a table or a field."""
    liquid = product(max="60 gal/ac", density="10.65 lb/gal", analysis={"N": "28 %"})
    fields = {"y": column("y", 150)}
    found = by_formula(read_formula("y / 2"), fields, {}, unit("lb N/ac"), liquid, count=1)
    assert found.rates[0] == pytest.approx(25.151, abs=5e-4)
    assert "28 % N" in found.sums[0]
    assert found.worked == ("150 / 2 = 75 lb N/ac",)


def test_a_nutrient_that_the_product_does_not_carry_is_refused() -> None:
    liquid = product(density="10.65 lb/gal", analysis={"N": "28 %"})
    with pytest.raises(UnitError, match="carries N, not K2O"):
        by_formula(read_formula("60"), {}, {}, unit("lb K2O/ac"), liquid, count=1)


def test_what_a_rate_was_worked_out_from_is_kept() -> None:
    """Fields in the order of the formula, constants in the sum; the sum can be done again."""
    found = worked("base - 2 * om + y / 100", {"base": 20}, om=[2.4, -1.0, None], y=[182.0, 0.0, 5.0])
    assert found.inputs == ("om 2.4, y 182", "om -1, y 0", "")
    assert found.worked == ("20 - 2 * 2.4 + 182 / 100 = 17.02 lb/ac", "20 - 2 * (-1) + 0 / 100 = 22 lb/ac", "")
    assert found.rates[:2].tolist() == [17.02, 22.0]
    assert np.isnan(found.values).all()


@pytest.mark.parametrize(
    ("text", "om", "why"),
    [
        pytest.param("y / om", 0.0, "182 / 0 divides by zero", id="a division by zero"),
        pytest.param("(y - 182) / om", 0.0, "0 / 0 has no value", id="nothing by nothing"),
        pytest.param("om ** -1 * y", 0.0, "0 ** (-1) has no value", id="a power of zero"),
        pytest.param("om ** 0.5 * y", -4.0, "(-4) ** 0.5 has no value", id="an even root below zero"),
        pytest.param("sqrt(om) * y", -4.0, "sqrt(-4) has no value", id="a root below zero"),
        pytest.param("ln(om) * y", 0.0, "ln(0) has no value", id="a logarithm of zero"),
        pytest.param("exp(om) * y", 1e6, "exp(1000000) is beyond any number here", id="an overflow"),
        pytest.param("y * 10 ** om", 20.0, "1.82e+22 is beyond any rate", id="more than any rate"),
        pytest.param("-y * 10 ** om", 20.0, "-1.82e+22 is beyond any rate", id="less than any rate"),
    ],
)
def test_a_zone_in_which_the_formula_fails_says_why(text: str, om: float, why: str) -> None:
    """With its numbers; the zone beside it has its rate."""
    found = worked(text, om=[om, 1.0], y=[182.0, 182.0])
    assert isnan(found.rates[0])
    assert found.rates[1] == found.rates[1]
    (cell,) = found.bad
    assert (cell.index, cell.kind) == (0, "formula-failed")
    assert set(cell.text.partition(": ")[0].split(", ")) == {f"om {om:.10g}", "y 182"}
    assert cell.text.partition(": ")[2] == why


def test_a_zone_without_a_number_in_a_field_is_told_once() -> None:
    """What is no number at all is said before what is empty."""
    om = Numbers(
        name="om",
        values=np.array([np.nan, np.nan, 2.0]),
        bad=(BadCell(index=0, text="", kind="empty"), BadCell(index=1, text="-9999", kind="no-data-code")),
    )
    y = Numbers(
        name="y", values=np.array([np.nan, 180.0, 180.0]), bad=(BadCell(index=0, text="n/a", kind="not-a-number"),)
    )
    found = by_formula(read_formula("y - om"), {"om": om, "y": y}, {}, unit("lb/ac"), LB_AC, count=3)
    assert [(cell.index, cell.text, cell.kind, cell.of) for cell in found.bad] == [
        (0, "n/a", "not-a-number", "y"),
        (1, "-9999", "no-data-code", "om"),
    ]
    assert found.rates[2] == 178


def test_a_formula_without_a_field_gives_every_zone_one_rate() -> None:
    found = by_formula(read_formula("2 * base"), {}, {"base": 30.0}, unit("lb/ac"), LB_AC, count=3)
    assert found.rates.tolist() == [60, 60, 60]


def rated(no_data: NoData, *om: float | None) -> Rated:
    """Zones A, B and C of a hectare each, at 100 / om kg/ha."""
    drawn = zone_map("A B C")
    of = granular(default="45 kg/ha")
    wanted = by_formula(read_formula("100 / om"), {"om": column("om", *om)}, {}, unit("kg/ha"), of, count=3)
    return rate_product(drawn, borders_of(drawn), wanted, of, plan_of(of), no_data=no_data)


@pytest.mark.parametrize(
    ("no_data", "gets", "severity", "holds"),
    [
        pytest.param("refuse", 0, "stop", "", id="refuse"),
        pytest.param("default", 45, "caution", ": the default rate of 45 kg/ha holds", id="default"),
        pytest.param("off", 0, "caution", ": nothing is put there", id="off"),
    ],
)
def test_a_failed_formula_follows_no_data(no_data: NoData, gets: float, severity: str, holds: str) -> None:
    """A finding names the zone, its numbers and why; a zone with an empty field is told beside it."""
    found = rated(no_data, 1.0, 0.0, None)
    rate_of = found.map.product.rate_of
    assert [float(rate_of(int(number))) for number in found.map.numbers] == [100, gets, gets]
    (failed,) = [one for one in found.findings if one.id == "rate-formula-failed"]
    assert (failed.severity, failed.area_m2, failed.features) == (severity, HA, (2,))
    assert f"the formula gives no rate in zone B (om 0: 100 / 0 divides by zero), on 1.0000 ha (2.471 ac){holds}." in (
        failed.message
    )
    (empty,) = [one for one in found.findings if one.id == "rate-missing"]
    assert "no rate in zone C (om is empty), on" in empty.message
    assert empty.severity == severity
