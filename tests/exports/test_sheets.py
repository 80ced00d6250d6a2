"""Sheets: rates that are found again, polygons that are merged, keep-outs, names and codes."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given as drawn_by
from hypothesis import strategies as st
from support_products import granular, product, seed, unit
from support_zone_maps import HA, plan_of, prescription_of, zone_map

from vrx.errors import UnitError
from vrx.exports.sheets import Sheets, make_sheets, merged_maps, rate_column, receiver_unit
from vrx.geo.area import geodesic_area
from vrx.model.finding import Finding
from vrx.model.product import Product
from vrx.model.sheet import Sheet
from vrx.model.zone_map import ZoneMap
from vrx.units import convert

UREA = granular(name="Urea")
# Coordinates are written with 8 decimals of a degree: a border lies within a millimetre of where it was.
ROUNDED_M = 0.001


def sheets(
    drawn: ZoneMap,
    *rated: tuple[Product, Mapping[str, float | None]],
    receiver: Mapping[str, Any] | None = None,
    **plan: Any,
) -> Sheets:
    made = plan_of(*(of for of, _ in rated), units="us", receiver=receiver or {}, **plan)
    return make_sheets(prescription_of(drawn, made, *(rates for _, rates in rated)), made)


def one_sheet(*args: Any, **keys: Any) -> Sheet:
    (sheet,) = sheets(*args, **keys).sheets
    return sheet


def texts(sheet: Sheet, column: int = 0) -> list[str]:
    return [sheet.columns[column].rate_text(at) for at in range(len(sheet.shapes))]


def perimeter_m(area_m2: float) -> float:
    """Return the perimeter of squares of 100 m in a row."""
    return 200 + 2 * area_m2 / 100


def named(found: Sheets, name: str) -> list[Finding]:
    return [one for one in found.findings if one.id == name]


# --- rates


@pytest.mark.parametrize(
    ("of", "numbers", "expected"),
    [
        pytest.param(granular(), [0, 6, 37], ["0", "30", "185"], id="whole steps"),
        pytest.param(granular(step="0.5 kg/ha"), [0, 60, 61], ["0.0", "30.0", "30.5"], id="halves: all have a decimal"),
        pytest.param(granular(step="0.125 kg/ha"), [241], ["30.125"], id="eighths"),
        pytest.param(
            granular(min="30.25 kg/ha", step_from="min"),
            [0, 1, 2],
            ["0.00", "30.25", "35.25"],
            id="steps from a minimum",
        ),
        pytest.param(granular(step="2.5 kg/ha"), [12, 13], ["30.0", "32.5"], id="two and a half"),
    ],
)
def test_decimals_come_from_the_step_and_where_it_counts_from(
    of: Product, numbers: list[int], expected: list[str]
) -> None:
    """Every allowed rate is written exactly, all with the same decimals."""
    column = rate_column("RATE", np.array(numbers), of, plan_of(of))
    assert [column.rate_text(at) for at in range(len(numbers))] == expected
    assert [Fraction(column.rate_text(at)) for at in range(len(numbers))] == [of.rate_of(number) for number in numbers]


@pytest.mark.source("NIST SP 811 (2008)", "appendix B.8: gallon and acre; 1 gal/ac = 9.353 96 L/ha, computed")
def test_a_map_in_litres_for_a_pump_in_gallons() -> None:
    """18 gal/ac is 168.371 L/ha; a step of 1 gal/ac needs one decimal to be found again."""
    liquid = product()
    column = rate_column("RATE", np.array([0, 8, 18]), liquid, plan_of(liquid, units="us", receiver={"unit": "L/ha"}))
    assert (column.unit, column.decimals) == ("L/ha", 1)
    assert [column.rate_text(at) for at in range(3)] == ["0.0", "74.8", "168.4"]
    assert float(18 * unit("gal/ac").factor / unit("L/ha").factor) == pytest.approx(168.371, abs=5e-4)


@pytest.mark.parametrize(
    ("of", "receiver", "number", "expected"),
    [
        pytest.param(
            granular(min="1 oz_weight/ac", max="99 oz_weight/ac", step="1 oz_weight/ac"), "lb/ac", 3, "0.1875",
            id="sixteenths are exact with four decimals",
        ),
        pytest.param(seed(), "thousand_seeds/ac", 65, "32.5", id="thousands of seeds"),
        pytest.param(granular(), "tonne/ha", 21, "0.105", id="kilograms as tonnes"),
    ],
)  # fmt: skip
def test_a_conversion_that_ends_is_written_whole(of: Product, receiver: str, number: int, expected: str) -> None:
    """Where a few decimals write a rate exactly, it is not rounded."""
    column = rate_column("RATE", np.array([number]), of, plan_of(of, units="us", receiver={"unit": receiver}))
    assert column.rate_text(0) == expected


UNITS = {
    "volume": ["gal/ac", "L/ha", "qt/ac", "imp_gal/ac", "m3/ha", "fl_oz/ac"],
    "mass": ["lb/ac", "kg/ha", "short_ton/ac", "tonne/ha", "oz_weight/ac", "g/m2"],
    "seed": ["seeds/ac", "thousand_seeds/ac", "seeds/ha", "seeds/m2", "unit(80000 seeds)/ac"],
}


@st.composite
def limits_and_units(draw: st.DrawFn) -> tuple[Product, str]:
    kind = draw(st.sampled_from(sorted(UNITS)))
    own, written = draw(st.sampled_from(UNITS[kind])), draw(st.sampled_from(UNITS[kind]))
    step = draw(st.sampled_from(["0.1", "0.25", "0.5", "1", "3", "5", "12.5", "500"]))
    low, span = draw(st.integers(1, 40)), draw(st.integers(0, 60))
    start = draw(st.sampled_from(["zero", "min"]))
    shift = draw(st.sampled_from(["0", "0.05", "0.333"])) if start == "min" else "0"
    lowest = low * Fraction(step) + Fraction(shift)
    made = {"volume": product, "mass": granular, "seed": seed}[kind](
        min=f"{float(lowest)} {own}",
        max=f"{float(lowest + span * Fraction(step))} {own}",
        step=f"{step} {own}",
        step_from=start,
    )
    return made, written


@drawn_by(drawn=limits_and_units())
def test_the_step_number_is_found_again(drawn: tuple[Product, str]) -> None:
    """Converting a written rate back and rounding gives the same step number, for every allowed rate.

    And the rate that is written is the right one within half of its last digit.
    """
    of, written = drawn
    numbers = np.array([0, *range(of.first, of.last + 1)])
    column = rate_column("RATE", numbers, of, plan_of(of, units="us", receiver={"unit": written}))
    for at, number in enumerate(numbers.tolist()):
        back = convert(Fraction(column.rate_text(at)), unit(written), of.unit)
        half_digit = convert(Fraction(1, 2 * 10**column.decimals), unit(written), of.unit)
        assert abs(back - of.rate_of(number)) <= half_digit
        if number:
            assert round((back - of.base) / of.step.value) == number
            assert back == of.rate_of(number) or half_digit * 8 < of.step.value
        else:
            assert back == 0
    assert column.step_numbers.tolist() == numbers.tolist()


@pytest.mark.parametrize(
    ("step", "written", "held", "decimals"),
    [
        pytest.param("5 lb/ac", "kg/ha", 0, 0, id="whole numbers do: 5 lb/ac are 5.6 kg/ha"),
        pytest.param("2 lb/ac", "kg/ha", 0, 0, id="and still for 2.2 kg/ha"),
        pytest.param("1 lb/ac", "kg/ha", 0, 2, id="not where a step is 1.1 kg/ha: two would look like one"),
        pytest.param("5 lb/ac", "kg/ha", 1, 1, id="one where one is held"),
        pytest.param("5 lb/ac", "kg/ha", 3, 1, id="no more than are needed"),
        pytest.param("0.5 lb/ac", "lb/ac", 0, 1, id="never in the machine's own unit"),
    ],
)
def test_a_receiver_that_holds_few_decimals(step: str, written: str, held: int, decimals: int) -> None:
    """As few are written as it holds, as long as converting back gives the same step number."""
    of = granular(min="50 lb/ac", max="200 lb/ac", step=step)
    numbers = np.arange(of.first, of.last + 1)
    plan = plan_of(of, units="us", receiver={"unit": written, "rate_decimals": held})
    column = rate_column("RATE", numbers, of, plan)
    assert column.decimals == decimals
    back = [convert(Fraction(column.rate_text(at)), unit(written), of.unit) for at in range(len(numbers))]
    assert [round(rate / of.step.value) for rate in back] == numbers.tolist()


def test_a_unit_that_needs_a_density_uses_it() -> None:
    """A map in lb/ac for a pump in gal/ac of 10.6 lb/gal: 10 gal/ac is 106 lb/ac."""
    heavy = product(density="10.6 lb/gal")
    plan = plan_of(heavy, units="us", receiver={"unit": "lb/ac"})
    assert Fraction(rate_column("RATE", np.array([10]), heavy, plan).rate_text(0)) == 106
    assert receiver_unit(heavy, plan)[0].name == "lb/ac"
    with pytest.raises(UnitError, match="no density"):
        rate_column("RATE", np.array([10]), product(), plan)


def test_people_are_told_both_units() -> None:
    """A note lists each rate of the map in the machine's unit and as it is written."""
    found = sheets(zone_map("A B C"), (product(), {"A": 18, "B": 8, "C": 0}), receiver={"unit": "L/ha"})
    (finding,) = named(found, "rate-unit-written")
    assert finding.severity == "note"
    assert "written in L/ha: 8 gal/ac as 74.8, 18 gal/ac as 168.4." in finding.message
    assert not named(sheets(zone_map("A"), (product(), {"A": 18})), "rate-unit-written")
    off = sheets(zone_map("A"), (product(), {"A": 0}), receiver={"unit": "L/ha"})
    assert not named(off, "rate-unit-written")


def test_a_rate_between_two_written_ones_goes_up() -> None:
    """4 fl oz/ac is 0.03125 gal/ac, and 4 decimals tell its steps apart: the tie is written 0.0313, as 12 is 0.0938."""
    of = product(min="1 us_fl_oz/ac", max="12 us_fl_oz/ac", step="1 us_fl_oz/ac")
    plan = plan_of(of, units="us", receiver={"unit": "gal/ac"})
    column = rate_column("RATE", np.array([4, 12]), of, plan)
    assert [column.rate_text(at) for at in range(2)] == ["0.0313", "0.0938"]


# --- shapes


def test_equal_neighbours_are_one_polygon() -> None:
    """A and B at one rate are merged where they touch; C between them and D is not, nor A's far part."""
    sheet = one_sheet(zone_map("A B C D A"), (UREA, {"A": 60, "B": 60, "C": 90, "D": 60}))
    assert len(sheet.shapes) == 3
    areas = sorted(round(geodesic_area(one) / HA, 4) for one in sheet.shapes)
    assert areas == [1, 2, 2]
    assert sorted(texts(sheet)) == ["60", "60", "90"]


def test_parts_that_touch_in_a_corner_are_two_polygons() -> None:
    """Single-part polygons only."""
    sheet = one_sheet(zone_map("A B", "B A"), (UREA, {"A": 60, "B": 90}))
    assert len(sheet.shapes) == 4
    assert set(shapely.get_type_id(sheet.shapes)) == {3}


def test_merged_polygons_keep_their_true_areas() -> None:
    """The areas and perimeters beside a sheet are those of its polygons before rounding, in its order."""
    found = sheets(zone_map("A B C"), (UREA, {"A": 60, "B": 60, "C": 90}))
    (one,) = found.to_write
    sheet, unrounded = one.sheet, one.unrounded
    for shape, area in zip(sheet.shapes, unrounded.area_m2[unrounded.source], strict=True):
        assert geodesic_area(shape) == pytest.approx(area, abs=ROUNDED_M * perimeter_m(area))
    assert unrounded.perimeter_m.tolist() == pytest.approx([600, 400], rel=1e-9)


def test_a_sheet_has_a_column_for_each_product() -> None:
    """One file: a polygon wherever either rate changes, both rates on it, units in the description."""
    receiver = {"files": "one column a product", "formats": ["geojson"]}
    rated = [(UREA, {"A": 60, "B": 60, "C": 90}), (product(), {"A": 10, "B": 12, "C": 12})]
    sheet = one_sheet(zone_map("A B C"), *rated, receiver=receiver)
    assert [column.name for column in sheet.columns] == ["Urea", "Liquid_A"]
    rows = sorted(zip(texts(sheet, 0), texts(sheet, 1), strict=True))
    assert rows == [("60", "10"), ("60", "12"), ("90", "12")]
    assert sheet.description == "Urea in kg/ha, Liquid A in gal/ac, Vlei, 2027"


def test_a_product_has_a_sheet_of_its_own() -> None:
    """Two files, each with its own polygons, names and unit."""
    found = sheets(zone_map("A B"), (UREA, {"A": 60, "B": 60}), (product(), {"A": 10, "B": 12}))
    assert [len(sheet.shapes) for sheet in found.sheets] == [1, 2]
    assert [sheet.description for sheet in found.sheets] == ["Urea, kg/ha, Vlei, 2027", "Liquid A, gal/ac, Vlei, 2027"]
    assert {column.name for sheet in found.sheets for column in sheet.columns} == {"RATE"}


# --- keep-outs

WITH_KEEP_OUT = ("A A!0 O A",)


def test_a_keep_out_is_a_polygon_of_its_own_at_rate_0() -> None:
    """Beside a zone at rate 0 it stays apart, and the whole field is covered."""
    sheet = one_sheet(zone_map(*WITH_KEEP_OUT, keep_outs=[()]), (UREA, {"A": 60, "O": 0}))
    assert sorted(texts(sheet)) == ["0", "0", "60", "60"]
    assert sum(geodesic_area(one) for one in sheet.shapes) == pytest.approx(4 * HA, abs=ROUNDED_M * 1000)


def test_a_hole_is_left_out() -> None:
    """The keep-out is not in the file; ground at rate 0 is."""
    sheet = one_sheet(
        zone_map(*WITH_KEEP_OUT, keep_outs=[()]), (UREA, {"A": 60, "O": 0}), receiver={"keep_outs": "hole"}
    )
    assert sorted(texts(sheet)) == ["0", "60", "60"]
    assert sum(geodesic_area(one) for one in sheet.shapes) == pytest.approx(3 * HA, abs=ROUNDED_M * 1000)


def test_a_hole_for_one_product_is_none_where_another_goes() -> None:
    """In one file for both, ground that only one may treat stays, with 0 for the other."""
    drawn = zone_map("A A!0 A!1", keep_outs=[("Urea",), ()])
    receiver = {"keep_outs": "hole", "files": "one column a product"}
    sheet = one_sheet(drawn, (UREA, {"A": 60}), (product(), {"A": 10}), receiver=receiver)
    assert sorted(zip(texts(sheet, 0), texts(sheet, 1), strict=True)) == [("0", "10"), ("60", "10")]


def test_a_keep_out_binds_its_products_alone() -> None:
    """The other product's map has no trace of it."""
    drawn = zone_map("A A!0", keep_outs=[("Urea",)])
    first, second = sheets(drawn, (UREA, {"A": 60}), (product(), {"A": 10})).sheets
    assert sorted(texts(first)) == ["0", "60"]
    assert texts(second) == ["10"]


# --- names, codes, limits


def test_file_names_of_one_field_begin_alike() -> None:
    """A long and a short product name: both files are found beside each other."""
    long = granular(name="Calcium ammonium nitrate with sulphur")
    field = {"name": "Upper paddock behind the dam", "season": 2027, "boundary": "boundary.geojson"}
    found = sheets(zone_map("A"), (long, {"A": 60}), (product(name="Zn"), {"A": 10}), field=field)
    heads = {sheet.name.rsplit("_", 2)[0] for sheet in found.sheets}
    assert len(heads) == 1
    assert heads.pop().endswith("_2027")
    assert all(len(sheet.name) <= 32 for sheet in found.sheets)


def test_file_names_are_unique() -> None:
    """Products whose names are cut to the same letters still get a file each."""
    first, second = "Ammonium sulphate fine A", "Ammonium sulphate fine B"
    rated = [(granular(name=name), {"A": 60}) for name in (first, second)]
    found = sheets(zone_map("A"), *rated, receiver={"name_length": 16})
    stems = [sheet.name for sheet in found.sheets]
    assert len({stem.lower() for stem in stems}) == 2
    assert max(map(len, stems)) <= 16


def code(drawn: ZoneMap, of: Product = UREA, receiver: Mapping[str, Any] | None = None, **rates: float) -> str:
    return one_sheet(drawn, (of, rates), receiver=receiver).name.rpartition("_")[2]


def test_the_code_changes_with_a_rate() -> None:
    """Another rate on one zone is another map."""
    assert code(zone_map("A B"), A=60, B=90) != code(zone_map("A B"), A=60, B=95)


def test_the_code_changes_with_shape_unit_and_product() -> None:
    """So do another border, another unit of the same numbers, and another product."""
    drawn = zone_map("A B")
    codes = {
        code(drawn, A=60, B=90),
        code(zone_map("A B", widths=[100, 101]), A=60, B=90),
        code(drawn, granular(name="Urea", min="30 lb/ac", max="200 lb/ac", step="5 lb/ac"), A=60, B=90),
        code(drawn, granular(name="Potash"), A=60, B=90),
        code(drawn, receiver={"rate_column": "DOSE"}, A=60, B=90),
    }
    assert len(codes) == 5


def test_the_code_stays_where_the_map_stays() -> None:
    """Zone names, a wanted rate that is rounded to the same one, date and notes are no part of the map."""
    expected = code(zone_map("A B"), A=60, B=90)
    assert code(zone_map("X Y"), X=60, Y=90) == expected
    assert code(zone_map("A B"), A=61, B=89) == expected
    assert code(zone_map("A B"), granular(name="Urea", max="150 kg/ha"), A=60, B=90) == expected
    noted = sheets(zone_map("A B"), (UREA, {"A": 60, "B": 90}), notes="Start in the north.", date="2027-05-01")
    assert noted.sheets[0].name.endswith(expected)
    assert noted.sheets[0].date == "2027-05-01"


@pytest.mark.parametrize(
    ("receiver", "name"),
    [
        pytest.param({"most_features": 2}, "too-many-features", id="three polygons, two are loaded"),
        pytest.param({"most_vertices": 4}, "too-many-vertices", id="five vertices, four are loaded"),
        pytest.param({"rate_width": 2}, "rate-too-wide", id="120 in two digits"),
        pytest.param({"unit": "L/m2", "rate_decimals": 2}, "rate-too-wide", id="decimals that do not part two steps"),
        pytest.param({"rate_column": "geom", "formats": ["geopackage"]}, "name-not-loadable", id="a reserved column"),
    ],
)
def test_what_a_receiver_can_not_load_stops(receiver: dict[str, Any], name: str) -> None:
    """Its limits come from the plan, and each is a stop."""
    wide = product(max="150 gal/ac")
    found = sheets(zone_map("A B C"), (wide, {"A": 10, "B": 12, "C": 120}), receiver=receiver)
    assert {one.severity for one in named(found, name)} == {"stop"}


def test_what_holds_in_both_crs_is_told_once() -> None:
    """A map in a grid and, as GeoJSON, in degrees: one map, one name, one finding."""
    receiver = {"crs": "EPSG:32734", "most_vertices": 4}
    found = sheets(zone_map("A"), (UREA, {"A": 60}), receiver=receiver)
    assert [(one.sheet.crs, one.formats) for one in found.to_write] == [
        ("EPSG:32734", ("shapefile",)),
        ("EPSG:4326", ("geojson",)),
    ]
    assert len({one.sheet.name for one in found.to_write}) == 1
    assert [sheet.crs for sheet in found.sheets] == ["EPSG:32734"]
    assert len(named(found, "too-many-vertices")) == 1


def test_a_renamed_column_is_told() -> None:
    """A name of more than ten letters is shortened, and the note gives both."""
    found = sheets(zone_map("A"), (UREA, {"A": 60}), receiver={"rate_column": "Nitrogen rate"})
    (finding,) = named(found, "name-shortened")
    assert f"Nitrogen rate -> {found.sheets[0].columns[0].name}" in finding.message


def test_a_product_kept_out_everywhere_as_a_hole_has_an_empty_sheet() -> None:
    """No ground, no polygon, and no crash."""
    sheet = one_sheet(zone_map("A!0", keep_outs=[()]), (UREA, {"A": 60}), receiver={"keep_outs": "hole"})
    assert (len(sheet.shapes), len(sheet.columns[0].counts)) == (0, 0)


def test_merged_maps_are_what_the_sheets_hold() -> None:
    """Who counts vertices before a sheet is laid out counts those of the sheet."""
    drawn = zone_map("A B C", "A C C")
    plan = plan_of(UREA, product(), receiver={"files": "one column a product"})
    made = prescription_of(drawn, plan, {"A": 60, "B": 60, "C": 90}, {"A": 10, "B": 12, "C": 12})
    (laid,), (sheet,) = merged_maps(made, plan.receiver), make_sheets(made, plan).sheets
    assert (
        shapely.get_num_coordinates(laid.polygons.shapes).tolist() == shapely.get_num_coordinates(sheet.shapes).tolist()
    )
    assert laid.numbers[:, 0].tolist() == sheet.columns[0].step_numbers.tolist()
