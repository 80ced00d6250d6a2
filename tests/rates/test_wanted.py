"""Wanted rates on the polygons of a zone layer, by each way that a plan can ask for them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support_products import US, granular, product, seed, unit

from vrx.errors import UnitError
from vrx.model.layer import BadCell, Numbers
from vrx.rates.wanted import by_breaks, by_column, by_line, by_table
from vrx.units import Measure, parse_measure

UAN_28 = {"max": "60 gal/ac", "density": "10.65 lb/gal", "analysis": {"N": "28 %"}}


def rate(text: str) -> Measure:
    return parse_measure(text, kinds=("mass/area", "volume/area", "count/area"), dialect=US)


def numbers(*values: float | None) -> Numbers:
    bad = tuple(BadCell(index=at, text="", kind="empty") for at, value in enumerate(values) if value is None)
    return Numbers(name="om", values=np.array([np.nan if one is None else one for one in values]), bad=bad)


def test_a_table_gives_each_polygon_the_rate_of_its_zone() -> None:
    """Zones with several polygons get one rate each; the order of the polygons is kept."""
    found = by_table(["B", "A", "B"], {"A": rate("60 kg/ha"), "B": rate("0 kg/ha")}, granular())
    assert found.rates.tolist() == [0, 60, 0]
    assert found.bad == ()
    assert found.sums == ()


def test_a_zone_that_the_table_does_not_name_has_no_rate() -> None:
    """Every polygon of it is told; a zone at 0 is not one of them."""
    found = by_table(["A", "C", "B", "C"], {"A": rate("0 kg/ha"), "B": rate("60 kg/ha")}, granular())
    assert np.isnan(found.rates).tolist() == [False, True, False, True]
    assert [(cell.index, cell.kind) for cell in found.bad] == [(1, "empty"), (3, "empty")]


def test_names_match_exactly() -> None:
    """``a`` is another zone than ``A``: a soil survey tells KeA from Kea."""
    assert np.isnan(by_table(["A"], {"a": rate("60 kg/ha")}, granular()).rates).all()


@pytest.mark.source("UNL CropWatch, Setting the Sprayer Flow Rate for Non-Water Solutions (2016)", "Example 2")
@pytest.mark.parametrize("way", ["table", "column", "breaks", "line"])
def test_75_lb_of_nitrogen_is_25_15_gallons(way: str) -> None:
    """F24: 75 lb N/ac of a 28 % solution of 10.65 lb/gal is 25.151 gal/ac, whichever way the rate comes."""
    liquid = product(**UAN_28)
    wanted = rate("75 lb N/ac")
    found = {
        "table": lambda: by_table(["A"], {"A": wanted}, liquid),
        "column": lambda: by_column(numbers(75), unit("lb N/ac"), liquid),
        "breaks": lambda: by_breaks(numbers(1), [2], [wanted, wanted], liquid),
        "line": lambda: by_line(numbers(1), [(0, wanted), (2, wanted)], liquid),
    }[way]()
    assert found.rates[0] == pytest.approx(25.151, abs=5e-4)
    assert "28 % N" in found.sums[0]
    assert "10.65 lb/gal" in found.sums[0]


@pytest.mark.source("exact arithmetic on label grades", "F26, F28, F30: computed apart from the project")
@pytest.mark.parametrize(
    ("wanted", "analysis", "lb_ac"),
    [
        pytest.param("150 lb N/ac", {"N": "46 %"}, 326.087, id="F26 urea"),
        pytest.param("60 lb P2O5/ac", {"N": "11 %", "P2O5": "52 %"}, 115.385, id="F28 MAP"),
        pytest.param("100 lb K2O/ac", {"K2O": "60 %"}, 166.667, id="F30 0-0-60"),
    ],
)
def test_nutrients_turn_into_product(wanted: str, analysis: dict[str, str], lb_ac: float) -> None:
    """A nutrient rate in the table becomes the rate of product, in the unit of the step."""
    dry = granular(min="1 lb/ac", max="900 lb/ac", step="1 lb/ac", analysis=analysis)
    assert by_table(["A"], {"A": rate(wanted)}, dry).rates[0] == pytest.approx(lb_ac, abs=5e-4)


def test_rates_of_one_table_may_have_units_of_their_own() -> None:
    """Thousands of seeds beside single ones; each conversion is told once."""
    table = {"A": rate("30 thousand_seeds/ac"), "B": rate("30000 seeds/ac"), "C": rate("31 thousand_seeds/ac")}
    found = by_table(["A", "B", "C"], table, seed())
    assert found.rates.tolist() == [30000, 30000, 31000]
    assert len(found.sums) == 1


def test_a_nutrient_that_the_product_does_not_carry_is_refused() -> None:
    """Potash from a nitrogen solution is no conversion; the message names product and key."""
    with pytest.raises(UnitError, match=r"'Liquid A' carries N, not K2O") as caught:
        by_column(numbers(60), unit("lb K2O/ac"), product(**UAN_28))
    assert "analysis" in caught.value.remedy


def test_a_number_beyond_any_rate_is_none() -> None:
    """1e29 would drown every total; a plan refuses it too."""
    found = by_column(numbers(12, 1e29, None), unit("gal/ac"), product())
    assert found.rates[0] == 12
    assert np.isnan(found.rates[1:]).all()
    assert [(cell.index, cell.text, cell.kind) for cell in found.bad] == [
        (1, "1e+29", "not-a-number"),
        (2, "", "empty"),
    ]


@pytest.mark.parametrize(
    ("number", "breaks", "expected"),
    [
        pytest.param(float(np.float32(3.3)), [3.3], 2, id="3.3 in 32 bits"),
        pytest.param(3.29999995232, [3.3], 2, id="that, written with eleven decimals"),
        pytest.param(3.2999996, [3.3], 1, id="the number of 32 bits below it"),
        pytest.param(3.299999, [3.3], 1, id="less than 3.3"),
        pytest.param(-0.1, [-0.1], 2, id="the break itself"),
        pytest.param(1234567.8, [1234567.9], 1, id="more digits than 32 bits keep: to the last of them"),
        pytest.param(1e39, [3.3], 2, id="beyond 32 bits"),
    ],
)
def test_a_break_is_met_by_what_32_bits_make_of_it(number: float, breaks: list[float], expected: float) -> None:
    """Many programs write 3.3 as 3.299999952316284, which is 3.3 to whoever drew the classes."""
    found = by_breaks(numbers(number), breaks, [rate("1 kg/ha"), rate("2 kg/ha")], granular())
    assert found.rates.tolist() == [expected]


def test_a_column_keeps_what_is_no_number() -> None:
    """0 is a rate, an empty cell is none."""
    found = by_column(numbers(0, None, 12.5), unit("gal/ac"), product())
    assert found.rates.tolist()[::2] == [0, 12.5]
    assert np.isnan(found.rates[1])
    assert [cell.index for cell in found.bad] == [1]


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        pytest.param(-1e9, 22, id="far below"),
        pytest.param(1.9999999, 22, id="just below a break"),
        pytest.param(2.0, 18, id="a break belongs to the class above it"),
        pytest.param(3.49, 18, id="between"),
        pytest.param(3.5, 0, id="the last break too"),
        pytest.param(1e9, 0, id="far above"),
    ],
)
def test_breaks(number: float, expected: float) -> None:
    """Below the first break the first rate, from each break on the next one."""
    rates = [rate("22 gal/ac"), rate("18 gal/ac"), rate("0 gal/ac")]
    assert by_breaks(numbers(number), [2.0, 3.5], rates, product()).rates.tolist() == [expected]


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        pytest.param(0.0, 24, id="held before the first point"),
        pytest.param(1.5, 24, id="at the first point"),
        pytest.param(2.0, 20, id="half way"),
        pytest.param(2.5, 16, id="at a point inside"),
        pytest.param(3.25, 13, id="on the second line"),
        pytest.param(4.0, 10, id="at the last point"),
        pytest.param(99.0, 10, id="held behind the last point"),
    ],
)
def test_line(number: float, expected: float) -> None:
    """24 at 1.5, 16 at 2.5, 10 at 4: straight in between."""
    points = [(1.5, rate("24 gal/ac")), (2.5, rate("16 gal/ac")), (4.0, rate("10 gal/ac"))]
    assert by_line(numbers(number), points, product()).rates.tolist() == [pytest.approx(expected, abs=1e-12)]


@pytest.mark.parametrize("way", ["breaks", "line"])
def test_no_number_gives_no_rate(way: str) -> None:
    """A zone without a number has no class and no place on a line; its cell stays known."""
    rates = [rate("20 gal/ac"), rate("10 gal/ac")]
    if way == "breaks":
        found = by_breaks(numbers(None, 1), [0], rates, product())
    else:
        found = by_line(numbers(None, 1), list(zip([0.0, 1.0], rates, strict=True)), product())
    assert np.isnan(found.rates[0])
    assert found.rates[1] == 10
    assert [cell.index for cell in found.bad] == [0]


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=20))
def test_a_line_never_leaves_the_range_of_its_points(values: list[float]) -> None:
    """Held at the ends, so that no extrapolated rate appears; and a falling line falls."""
    points = [(-3.0, rate("25 gal/ac")), (0.1, rate("19 gal/ac")), (7.0, rate("9 gal/ac"))]
    found = by_line(numbers(*sorted(values)), points, product()).rates
    assert ((found >= 9) & (found <= 25)).all()
    assert (np.diff(found) <= 1e-12).all()


@pytest.mark.parametrize(
    ("way", "inputs", "values"),
    [
        pytest.param("table", ("75 lb N/ac", ""), [np.nan, np.nan], id="a table says a rate"),
        pytest.param("column", ("2.25 lb N/ac", ""), [2.25, np.nan], id="a field holds a rate"),
        pytest.param("breaks", ("om 2.25", ""), [2.25, np.nan], id="a class of a number"),
        pytest.param("line", ("om 2.25", ""), [2.25, np.nan], id="a line over a number"),
    ],
)
def test_what_a_rate_was_worked_out_from_is_kept(way: str, inputs: tuple[str, ...], values: list[float]) -> None:
    """As it stood in the table or the layer, so that a person can do the sum again; nothing where nothing was."""
    liquid, wanted = product(**UAN_28), rate("75 lb N/ac")
    found = {
        "table": lambda: by_table(["A", "B"], {"A": wanted}, liquid),
        "column": lambda: by_column(numbers(2.25, None), unit("lb N/ac"), liquid),
        "breaks": lambda: by_breaks(numbers(2.25, None), [2], [wanted, wanted], liquid),
        "line": lambda: by_line(numbers(2.25, None), [(0, wanted), (3, wanted)], liquid),
    }[way]()
    assert found.inputs == inputs
    np.testing.assert_array_equal(found.values, values)
