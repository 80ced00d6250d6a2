"""Rules about acres and amounts: areas that differ, what is on hand, nutrients, flow."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import shapely.affinity
from support_cases import AREA_HA, feature, polygon, rectangle, write_geojson
from support_checks import SPRAYER, library, named, plan_for, strips, the, unseen
from support_fields import SPREADER, keep_out, write_box
from support_formats import write_with_gdal, zone_shapes

from vrx.checks.nutrients import brought_together, over_together
from vrx.checks.places import both_above_zero, none_above_zero
from vrx.geo.narrow import narrow_ground
from vrx.runs.check import check, look_at, read_against
from vrx.units import Dialect, parse_measure, parse_unit

RATES = (85, 115, 140)


# ---- areas


def test_a_map_smaller_than_its_field(tmp_path: Path) -> None:
    """9.5 of 10.5 ha: both are told, and that the difference is not covered."""
    plan = plan_for(tmp_path)
    one = the(check([strips(tmp_path, RATES, widths=(180, 120, 80))], plan=plan), "area-differs")
    assert "differ by up to 9.52 %: the map covers 9.5000 ha (23.475 ac), the boundary 10.5000 ha" in one.message
    assert "1.0000 ha (2.471 ac) of the field are not covered" in one.message
    assert one.area_m2 == pytest.approx(10_000, rel=1e-6)
    assert not named(check([strips(tmp_path, RATES, widths=(180, 120, 118.5))], plan=plan), "area-differs")


@pytest.mark.parametrize(
    ("stated", "basis", "apart"),
    [
        pytest.param("10.5 ha", "boundary", "", id="agrees"),
        pytest.param("10.6 ha", "boundary", "0.94 %", id="differs"),
        pytest.param("9.5 ha", "treated", "", id="of what is to be treated"),
        pytest.param("10.5 ha", "treated", "9.52 %", id="counts the keep-out"),
    ],
)
@pytest.mark.parametrize("hole", [False, True], ids=["keep-out at 0", "keep-out left out"])
def test_the_area_that_others_state(tmp_path: Path, stated: str, basis: str, apart: str, hole: bool) -> None:
    """A keep-out of 1 ha may be in the map at rate 0 or left out: neither is a difference."""
    write_box(tmp_path / "pond.geojson", -20.0, 0.0, 20.0, 250.0)
    plan = plan_for(
        tmp_path, rest=keep_out("pond.geojson"), field=f'stated_area = "{stated}"\nstated_basis = "{basis}"'
    )
    path = strips(tmp_path, (85, 0, 140), widths=(190, 40, 190))
    if hole:
        parts = [feature(polygon(rectangle(*edges)), rate=85) for edges in ((-210, 0, -20, 250), (20, 0, 210, 250))]
        write_geojson(path, parts)
    found = named(check([path], plan=plan), "area-differs")
    assert [f"differ by up to {apart}" in one.message for one in found] == [True] * bool(apart)


def test_areas_of_a_web_map(tmp_path: Path) -> None:
    """At 40.05 degrees a web map draws ground 1.7 times too large; true areas in the column are no matter."""
    shapes = zone_shapes("EPSG:3857")
    flat = shapely.area(shapes) / 4046.8564224
    rates = np.array([85.0, 115.0, 140.0])
    path = write_with_gdal(tmp_path / "web.gpkg", shapes, {"RATE": rates, "ACRES": flat}, crs="EPSG:3857")
    one = the(check([path], unit="lb/ac"), "area-distorted")
    factor = flat.sum() * 4046.8564224 / 105_000
    assert f"the column is {factor:.4g} times that" in one.message
    assert "True ground are 25.946 ac (10.5000 ha)" in one.message
    true = np.array(list(AREA_HA.values())) * 2.4710538
    path = write_with_gdal(tmp_path / "true.gpkg", shapes, {"RATE": rates, "ACRES": true}, crs="EPSG:3857")
    assert not named(check([path], unit="lb/ac"), "area-distorted")
    utm = shapely.area(zone_shapes()) / 1e4
    path = write_with_gdal(tmp_path / "utm.gpkg", zone_shapes(), {"RATE": rates, "area_ha": utm})
    assert not named(check([path], unit="lb/ac"), "area-distorted")


# ---- amounts


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        # 3.5 ha x (85 + 115 + 140) kg/ha = 1190 kg
        pytest.param('on_hand = "1200 kg"', "", id="enough"),
        pytest.param('on_hand = "1000 kg"', "The map takes 1,190 kg of Granular; on hand are 1000 kg: 190 kg too",
                     id="too little"),
        pytest.param('on_hand = "1.2 tonne"\noverlap = "5 %"', "1,249.5 kg with 5 % overlap; on hand are 1.2 tonne, "
                     "that is 1,200 kg: 49.5 kg too little", id="with overlap"),
        pytest.param("", "", id="not said"),
    ],
)  # fmt: skip
def test_more_than_there_is(tmp_path: Path, keys: str, words: str) -> None:
    """Rates times true areas, held against what is in the shed."""
    product = library(tmp_path, f"{SPREADER}{keys}\n")
    found = named(check([strips(tmp_path, RATES)], product=product, unit="kg/ha"), "more-than-on-hand")
    assert [words in one.message for one in found] == [True] * bool(words)


def test_on_a_share_of_the_width(tmp_path: Path) -> None:
    """A product on every other drive takes half: 595 kg, and 600 are enough."""
    other = SPREADER.replace('"Granular"', '"Granular two"')
    rest = "".join(
        f'[[machine.drive]]\nname = "{name}"\nspan = ["{left} m", "{right} m"]\nproduct = "{product}"\n'
        for name, left, right, product in (("a", -9, 0, "Granular"), ("b", 0, 9, "Granular two"))
    )
    products = f'{SPREADER}on_hand = "600 kg"\n{other}'
    plan = plan_for(tmp_path, products=products, rates=("Granular", "Granular two"), rest=rest)
    path = strips(tmp_path, RATES)
    assert not named(check([path], plan=plan, product="Granular"), "more-than-on-hand")
    alone = plan_for(tmp_path, products=f'{SPREADER}on_hand = "600 kg"\n')
    assert "takes 1,190 kg" in the(check([path], plan=alone), "more-than-on-hand").message


@pytest.mark.parametrize(
    ("cap", "words"),
    [
        # 46 % of 140 kg/ha are 64.4 kg N/ha, of 115 kg/ha 52.9.
        pytest.param("60 kg N/ha", "brings up to 64.4 kg N/ha, and the plan's limit is 60 kg N/ha: 140 kg/ha in C "
                     "(record 3), 64.4 kg N/ha, on 3.5000 ha", id="over in C"),
        pytest.param("64.4 kg N/ha", "", id="at the limit"),
        pytest.param("80 kg P2O5/ha", "", id="a nutrient that it does not carry"),
    ],
)  # fmt: skip
def test_limits_on_nutrients(tmp_path: Path, cap: str, words: str) -> None:
    """The rate times the share of the label, in the limit's own unit."""
    nutrient = "P2O5" if "P2O5" in cap else "N"
    products = SPREADER + 'analysis = { N = "46 %" }\n'
    plan = plan_for(tmp_path, products=products, rest=f'[caps]\n{nutrient} = "{cap}"\n')
    found = named(check([strips(tmp_path, RATES)], plan=plan), "nutrient-over-limit")
    assert [(one.severity, words in one.message) for one in found] == [("stop", True)] * bool(words)
    assert all("130.435 kg/ha or less" in one.remedy for one in found)


def two_maps(folder: Path, first: tuple[int, ...], second: tuple[int, ...], **keys: Any) -> list[Any]:
    """Two maps of one field: thirds of 3.5 ha, and halves of 5.25 ha."""
    other = SPREADER.replace('"Granular"', '"Granular two"') + 'analysis = { N = "20 %" }\n'
    products = SPREADER + 'analysis = { N = "46 %" }\n' + other
    plan = plan_for(folder, products=products, rates=("Granular", "Granular two"), **keys)
    found = []
    for name, product, rates in (("one", "Granular", first), ("two", "Granular two", second)):
        on = read_against(plan=plan, product=product)
        found.append(look_at([strips(folder, rates, name=name)], on))
    return found


def test_nutrients_of_two_maps_add_up(tmp_path: Path) -> None:
    """46 % of 100 in thirds and 20 % of 50 or 150 in halves: each piece gets their sum, and the ground adds up."""
    unit = parse_unit("kg N/ha", Dialect("metric"))
    pieces = brought_together(two_maps(tmp_path, (100, 0, 200), (50, 150)), unit)
    by_rate: dict[float, float] = {}
    for one in pieces:
        by_rate[round(one.rate, 6)] = by_rate.get(round(one.rate, 6), 0) + one.shape.area / 1e4
    # A third is 140 m wide, and the half ends in the middle of B.
    assert {rate: round(area, 4) for rate, area in sorted(by_rate.items())} == {
        10: 1.75, 30: 1.75, 56: 3.5, 122: 3.5
    }  # fmt: skip
    cap = parse_measure("60 kg N/ha", kinds=("mass/area",), dialect=Dialect("metric"))
    over = over_together(two_maps(tmp_path, (100, 0, 200), (50, 150)), cap)
    assert [round(one.rate, 6) for one in over] == [122]
    assert sum(one.shape.area for one in over) == pytest.approx(35_000, rel=1e-6)


def test_nutrients_of_maps_that_cover_other_ground(tmp_path: Path) -> None:
    """Where only one of two maps lies, what it brings counts alone: a map of 200 m beside one of 420 m."""
    first, _ = two_maps(tmp_path, (100, 0, 200), (50, 150))
    against = read_against(plan=tmp_path / "plan.toml", product="Granular two")
    part = look_at([strips(tmp_path, (50,), widths=(200,), name="part")], against)
    unit = parse_unit("kg N/ha", Dialect("metric"))
    found = [(round(one.rate, 6), round(one.shape.area / 1e4, 4)) for one in brought_together([first, part], unit)]
    # A is 140 m of it, and 60 m of B get the second product alone.
    assert sorted(found) == [(10, 1.5), (56, 3.5), (92, 3.5)]


def test_two_maps_where_both_or_neither_give_something(tmp_path: Path) -> None:
    """A and C by one map, the west half by the other: both in A, neither in the east half of B."""
    first, second = two_maps(tmp_path, (100, 0, 200), (50, 0))
    assert both_above_zero(first, second).area_m2 == pytest.approx(35_000, rel=1e-6)
    assert none_above_zero([first, second]).area_m2 == pytest.approx(17_500, rel=1e-6)
    alone, all_of_it = two_maps(tmp_path, (100, 0, 0), (0, 50))
    assert both_above_zero(alone, all_of_it).area_m2 == 0


def test_neither_is_no_matter_in_a_keep_out(tmp_path: Path) -> None:
    """Ground that neither may go onto needs nothing."""
    write_box(tmp_path / "pond.geojson", 0.0, 0.0, 70.0, 250.0)
    first, second = two_maps(tmp_path, (100, 0, 200), (50, 0), rest=keep_out("pond.geojson"))
    assert none_above_zero([first, second]).area_m2 == 0


# ---- flow


def sprayer(folder: Path, keys: str, *, speed: str = 'speed = "4 to 6 mph"', box: str = "", span: int = 15) -> Path:
    rest = (
        f'[machine]\n{speed}\nwidth = "60 ft"\n{box}\n[[machine.drive]]\nname = "boom"\n'
        f'span = ["-{span} ft", "{span} ft"]\nproduct = "Liquid"\n{keys}\n'
    )
    return plan_for(folder, products=SPRAYER, rates=("Liquid",), units="us", rest=rest)


@pytest.mark.source("MesaCountyCalibration", "GPM = GPA x mph x ft / 495, and x in / 5940")
@pytest.mark.parametrize(
    ("keys", "severity", "words"),
    [
        # 10 gal/ac at 4 mph on 30 ft: 10 x 4 x 30 / 495 = 2.42 gal/min; 20 gal/ac at 6 mph: 7.27.
        pytest.param('flow = "2 to 8 gal/min"', "", (), id="fits"),
        pytest.param('flow = "3 to 8 gal/min"', "caution", (
            "Drive boom gives 3 to 8 gal/min: 10 gal/ac needs 2.42 to 3.64 gal/min at 4 to 6 mph and 20 gal/ac needs "
            "4.85 to 7.27 gal/min (10 gal/ac x 4 mph x 30 ft / 495 = 2.42 gal/min)",
            "4.95 to 6.6 mph would fit"), id="too slow at the low end"),
        pytest.param('flow = "0 to 6 gal/min"', "caution", ("Up to 4.95 mph fits",), id="too fast at the high end"),
        pytest.param('flow = "0 to 4 gal/min"', "stop", ("Up to 3.3 mph fits",), id="no speed of the range"),
        pytest.param('flow = "6 to 20 gal/min"', "stop", ("9.9 to 16.5 mph would fit",), id="only a faster one"),
        pytest.param('flow = "3 to 5 gal/min"', "stop", (
            "No speed fits both: 10 gal/ac needs 4.95 mph or more, and 20 gal/ac 4.12 mph or less",), id="no speed"),
        # An outlet 20 in apart: 10 x 4 x 20 / 5940 = 0.135; 20 x 6 x 20 / 5940 = 0.404.
        pytest.param('outlet_flow = "0.1 to 0.35 gal/min"\noutlet_spacing = "20 in"', "caution", (
            "One outlet of boom gives 0.1 to 0.35 gal/min", "10 gal/ac x 4 mph x 20 in / 5940 = 0.135 gal/min",
            "needs 0.269 to 0.404 gal/min"), id="nozzles"),
    ],
)  # fmt: skip
def test_what_a_boom_can_give(tmp_path: Path, keys: str, severity: str, words: tuple[str, ...]) -> None:
    """Flows at the lowest and the highest rate and both speeds, in the plan's own units, with the speed that fits."""
    path = strips(tmp_path, (10, 0, 20))
    found = named(check([path], plan=sprayer(tmp_path, keys), unit="us_gal/ac"), "flow-out-of-range")
    assert [one.severity for one in found] == [severity] * bool(severity)
    assert all(text in one.message for text in words for one in found)


def test_a_pump_serves_all_its_drives(tmp_path: Path) -> None:
    """A box without drives feeds the whole boom: 20 gal/ac at 6 mph on 30 ft take 7.27 gal/min."""
    box = '[[machine.tank]]\nproduct = "Liquid"\nsize = "1000 gal"\nflow = "1 to 7 gal/min"\n'
    plan = sprayer(tmp_path, "", box=box)
    one = the(check([strips(tmp_path, (10, 0, 20))], plan=plan, unit="us_gal/ac"), "flow-out-of-range")
    assert "The pump of the box gives 1 to 7 gal/min" in one.message
    assert "needs 4.85 to 7.27 gal/min" in one.message


@pytest.mark.parametrize(
    ("keys", "speed", "words"),
    [
        pytest.param("", 'speed = "5 mph"', "add flow, or outlet_flow and outlet_spacing", id="no flow"),
        pytest.param('flow = "2 to 8 gal/min"', "", "add speed", id="no speed"),
        pytest.param('flow = "2 to 8 lb/min"', 'speed = "5 mph"', "no density", id="no density"),
    ],
)
def test_what_flow_needs_to_be_looked_at(tmp_path: Path, keys: str, speed: str, words: str) -> None:
    """It is said what to add to the plan."""
    plan = sprayer(tmp_path, keys, speed=speed)
    (why,) = unseen(check([strips(tmp_path, (10, 0, 20))], plan=plan, unit="us_gal/ac"), "flow-out-of-range")
    assert words in why


# ---- ground that is too narrow


@pytest.mark.parametrize(
    ("shapes", "groups", "width", "heading", "area"),
    [
        pytest.param([(0, 0, 10, 100)], [0], 12, 0, 1000, id="a strip along the heading"),
        pytest.param([(0, 0, 10, 100)], [0], 12, 90, 0, id="across it"),
        pytest.param([(0, 0, 10, 100)], [0], 12, 180, 1000, id="the way back"),
        pytest.param([(0, 0, 10, 100)], [0], 10, 0, 0, id="just as wide"),
        pytest.param([(0, 0, 10, 100)], [0], 12, None, 1000, id="no heading"),
        pytest.param([(0, 0, 10, 100), (10, 0, 20, 100)], [0, 0], 12, 0, 0, id="with a neighbour of the same rate"),
        pytest.param([(0, 0, 10, 100), (10, 0, 20, 100)], [0, 1], 12, 0, 2000, id="with one of another rate"),
        pytest.param([(0, 0, 10, 100), (5, 0, 20, 100)], [0, 0], 12, 0, 0, id="overlapping"),
        pytest.param([(0, 0, 30, 100), (5, 0, 8, 100), (29, 0, 40, 100)], [0] * 3, 12, 0, 0, id="one within another"),
        pytest.param([(0, 0, 40, 40), (40, 0, 140, 8)], [0, 0], 20, None, 800, id="a panhandle, no heading"),
        pytest.param([(0, 0, 40, 40), (40, 0, 140, 8)], [0, 0], 20, 0, 0, id="along the panhandle's width"),
    ],
)
def test_ground_narrower_than_a_width(
    shapes: list[tuple[int, ...]], groups: list[int], width: float, heading: float | None, area: float
) -> None:
    """Boxes have areas that anyone can work out."""
    boxes = np.array([shapely.box(*one) for one in shapes], dtype=object)
    found = narrow_ground(boxes, np.array(groups), width, heading=heading)
    assert found.area_m2.sum() == pytest.approx(area, rel=0.01, abs=1)
    assert shapely.union_all(found.pieces).area == pytest.approx(area, rel=0.01, abs=1)


def test_a_slanted_strip_by_its_heading() -> None:
    """A strip that runs 30 degrees east of north is 10 m wide across that heading, and 11.5 m from west to east."""
    strip = shapely.Polygon([(0, 0), (300, 300 * 3**0.5), (300 + 20 / 3**0.5, 300 * 3**0.5), (20 / 3**0.5, 0)])
    one, group = np.array([strip], dtype=object), np.array([0])
    assert narrow_ground(one, group, 11, heading=30.0).area_m2.sum() == pytest.approx(strip.area, rel=0.01)
    assert narrow_ground(one, group, 11, heading=0.0).area_m2.sum() == pytest.approx(0, abs=1)
    assert narrow_ground(one, group, 9, heading=30.0).area_m2.sum() < 0.02 * strip.area


def test_rows_agree_with_an_erosion() -> None:
    """Ground on chords shorter than 30 m, beside an opening by many shifted copies in plain shapely."""
    rng = np.random.default_rng(3)
    angle = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    radius = 60 + 50 * rng.random(40)
    blob = shapely.Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])).buffer(0)
    found = narrow_ground(np.array([blob], dtype=object), np.array([0]), 30.02, heading=0.0)
    shifts = np.linspace(-15, 15, 241)
    eroded = shapely.intersection_all([shapely.affinity.translate(blob, one) for one in shifts])
    opened = shapely.union_all([shapely.affinity.translate(eroded, one) for one in shifts])
    assert found.area_m2.sum() == pytest.approx(blob.difference(opened).area, rel=0.02)
