"""Rules about parts of a map, keep-outs and twins, where plan, overlays and other shapes have a say."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from support_cases import HEIGHT_M, feature, polygon, rectangle, write_boundary, write_geojson
from support_checks import named, plan_for, the, unseen
from support_fields import SPREADER, WEST_M, keep_out, write_box

from vrx.runs.check import check

NARROW = '[machine]\nwidth = "12 m"\n'
WHOLE = (-210.0, 0.0, 210.0, 250.0)
FIELD_M2 = 105_000


def holed(folder: Path, *inner: tuple[float, float, float, float, Any], rate: Any = 85) -> Path:
    """The whole field at one rate with rectangles of other rates in it, each in a hole of its own."""
    rings = [rectangle(*box[:4]) for box in inner]
    features = [feature(polygon(rectangle(*WHOLE), *rings), zone="Field", rate=rate)]
    features += [feature(polygon(ring), zone=f"I{at}", rate=inner[at][4]) for at, ring in enumerate(rings)]
    return write_geojson(folder / "map.geojson", features)


# ---- thin and tiny parts


def test_the_width_of_a_machine_without_drives(tmp_path: Path) -> None:
    """Its own width holds; a plan that does not know it says so."""
    path = holed(tmp_path, (0, 50, 10, 200, 115))
    one = the(check([path], plan=plan_for(tmp_path, rest=NARROW)), "thin-part")
    assert "A part at 115 kg/ha, 0.1500 ha (0.371 ac), in I0 (record 2), is narrower than the 12.00 m" in one.message
    assert "of the machine." in one.message
    (why,) = unseen(check([path], plan=plan_for(tmp_path)), "thin-part")
    assert "width" in why


def test_a_thin_part_at_rate_0_is_a_note(tmp_path: Path) -> None:
    """Nothing is given there: the machine may reach over it."""
    one = the(check([holed(tmp_path, (0, 50, 10, 200, 0))], plan=plan_for(tmp_path, rest=NARROW)), "thin-part")
    assert one.severity == "note"
    assert "at 0 kg/ha" in one.message


@pytest.mark.parametrize(
    ("about", "severity"),
    [pytest.param("Granular", "note", id="this product"), pytest.param("Lime", "caution", id="another one")],
)
def test_a_thin_part_that_an_overlay_draws_is_a_note(tmp_path: Path, about: str, severity: str) -> None:
    """The build leaves it as drawn, since a person wants it there; an overlay of another product draws nothing."""
    write_box(tmp_path / "strip.geojson", 0, 50, 10, 200)
    more = f'[[overlay]]\nwhere = "strip.geojson"\nproducts = ["{about}"]\nadd = "30 kg/ha"\n'
    products = SPREADER + SPREADER.replace('"Granular"', '"Lime"')
    plan = plan_for(tmp_path, products=products, rates=("Granular", "Lime"), rest=more + NARROW)
    found = check([holed(tmp_path, (0, 50, 10, 200, 115))], plan=plan, product="Granular")
    one = the(found, "thin-part")
    assert one.severity == severity
    assert one.message.startswith("A part of an overlay at 115 kg/ha" if severity == "note" else "A part at 115 kg/ha")


def test_rate_0_in_a_keep_out_is_no_part(tmp_path: Path) -> None:
    """A ditch of 10 m that the plan keeps out is what it has to be; half of another 0 beside it is told."""
    write_box(tmp_path / "ditch.geojson", 0, 50, 10, 200)
    plan = plan_for(tmp_path, rest=keep_out("ditch.geojson") + "\n" + NARROW)
    assert not named(check([holed(tmp_path, (0, 50, 10, 200, 0))], plan=plan), "thin-part")
    wider = check([holed(tmp_path, (0, 50, 11, 200, 0))], plan=plan)
    assert the(wider, "thin-part").severity == "note"


def test_a_tiny_part_is_not_told_as_thin(tmp_path: Path) -> None:
    """5 m by 5 m: 25 m2 against 0.1 ac."""
    found = check([holed(tmp_path, (0, 50, 5, 55, 115))], plan=plan_for(tmp_path, rest=NARROW))
    assert the(found, "tiny-part").area_m2 == pytest.approx(25, rel=1e-3)
    assert not named(found, "thin-part")


def test_cells_of_a_grid_are_one_part(tmp_path: Path) -> None:
    """1050 cells of 10 m by 10 m with two rates are two parts, whose areas stand for themselves."""
    cells = [
        feature(polygon(rectangle(x, y, x + 10, y + 10)), rate=85 if x < 0 else 115)
        for x in np.arange(WEST_M, 210, 10).tolist()
        for y in np.arange(0, HEIGHT_M, 10).tolist()
    ]
    plan = plan_for(tmp_path, rest=NARROW)
    found = check([write_geojson(tmp_path / "grid.geojson", cells)], plan=plan)
    assert not named(found, "tiny-part")
    assert not named(found, "thin-part")
    cells[600]["properties"]["rate"] = 90
    one = the(check([write_geojson(tmp_path / "grid.geojson", cells)], plan=plan), "tiny-part")
    assert (one.features, one.area_m2) == ((601,), pytest.approx(100, rel=1e-3))


def test_many_tiny_parts_are_told_together(tmp_path: Path) -> None:
    """Of twenty spots four are told one by one; their areas add up to all of them."""
    spots = [(-200 + 20 * at, 50, -200 + 20 * at + 5 + at / 10, 60, 115) for at in range(20)]
    found = named(check([holed(tmp_path, *spots)], plan=plan_for(tmp_path)), "tiny-part")
    assert len(found) == 5
    assert found[-1].message.startswith("16 more parts, ")
    assert sum(one.area_m2 or 0 for one in found) == pytest.approx(
        sum(10 * (5 + at / 10) for at in range(20)), rel=1e-3
    )


# ---- keep-outs


def test_a_keep_out_of_the_plan_holds_within_another_boundary(tmp_path: Path) -> None:
    """--boundary says where the field ends; what the plan keeps out stays out."""
    write_box(tmp_path / "hut.geojson", 0, 100, 30, 130)
    plan = plan_for(tmp_path, rest=keep_out("hut.geojson", reason='"hut"'))
    half = write_box(tmp_path / "half.geojson", 10, 0, 210, 250)
    path = holed(tmp_path)
    assert the(check([path], plan=plan), "in-keep-out").area_m2 == pytest.approx(30 * 30, rel=1e-3)
    found = check([path], plan=plan, boundary=half)
    assert the(found, "in-keep-out").area_m2 == pytest.approx(20 * 30, rel=1e-3)
    assert the(found, "outside-field").area_m2 == pytest.approx(220 * 250, rel=1e-3)
    (why,) = unseen(check([path], boundary=half), "in-keep-out")
    assert "No plan is known, which names the keep-outs" in why


def test_ground_beside_the_part_to_treat(tmp_path: Path) -> None:
    """It is told as that: west of the middle nothing is to go on."""
    write_box(tmp_path / "east.geojson", 0, 0, 210, 250)
    plan = plan_for(tmp_path, field='part = "east.geojson"')
    one = the(check([holed(tmp_path)], plan=plan), "in-keep-out")
    assert one.severity == "stop"
    assert one.message.startswith("The map gives something beside the part of the field that is to be treated")
    assert one.area_m2 == pytest.approx(FIELD_M2 / 2, rel=1e-3)


def test_without_rates_a_keep_out_is_not_looked_at(tmp_path: Path) -> None:
    """Two columns may hold them: whether something goes there can't be told, and that is said."""
    write_box(tmp_path / "hut.geojson", 0, 100, 30, 130)
    plan = plan_for(tmp_path, rest=keep_out("hut.geojson"))
    path = write_geojson(tmp_path / "map.geojson", [feature(polygon(rectangle(*WHOLE)), one_n=85, two_n=90)])
    found = check([path], plan=plan)
    assert not named(found, "in-keep-out")
    assert "--column" in unseen(found, "in-keep-out")[0]


@pytest.mark.parametrize(
    ("reach", "severity"), [pytest.param(10, "note", id="100 m2"), pytest.param(11, "caution", id="110 m2")]
)
def test_a_corner_beyond_the_field(tmp_path: Path, reach: float, severity: str) -> None:
    """10 m wide, but less than 0.1 % of the map, which is 105 m2, is noted."""
    features = [
        feature(polygon(rectangle(*WHOLE)), rate=85),
        feature(polygon(rectangle(210, 0, 210 + reach, 10)), rate=85),
    ]
    path = write_geojson(tmp_path / "map.geojson", features)
    one = the(check([path], boundary=write_boundary(tmp_path)), "outside-field")
    assert (one.severity, one.features) == (severity, (2,))
    assert one.area_m2 == pytest.approx(10 * reach, rel=1e-3)


# ---- twins, holes and the rest


def test_three_times_the_same_shape(tmp_path: Path) -> None:
    """They are one finding with all three records, whichever way their rings run or start; no pair is an overlap."""
    ring = rectangle(*WHOLE)
    rings = [ring, ring[::-1], [*ring[2:], *ring[1:3]]]
    features = [
        feature(polygon(one), zone=name, rate=rate) for one, name, rate in zip(rings, "ABC", (85, 85, 90), strict=True)
    ]
    found = check([write_geojson(tmp_path / "map.geojson", features)], boundary=write_boundary(tmp_path))
    one = the(found, "duplicate-shape")
    assert (one.severity, one.features) == ("stop", (1, 2, 3))
    assert one.message == (
        "A (record 1) (85) and B (record 2) (85) and C (record 3) (90) have the same polygon, of 10.5000 ha "
        "(25.946 ac)."
    )
    assert not named(found, "overlap")


def test_twins_and_an_overlap_are_told_apart(tmp_path: Path) -> None:
    """A third shape that reaches into both of two equal ones overlaps each of them."""
    boxes = [(-210, 0, 0, 250, 85), (-210, 0, 0, 250, 85), (-10, 0, 210, 250, 85)]
    features = [feature(polygon(rectangle(*one[:4])), rate=one[4]) for one in boxes]
    found = check([write_geojson(tmp_path / "map.geojson", features)], boundary=write_boundary(tmp_path))
    assert the(found, "duplicate-shape").severity == "note"
    one = the(found, "overlap")
    assert one.severity == "note"
    assert one.message.startswith("2 pairs of shapes with one rate overlap, on 0.5000 ha")


def test_a_shape_that_falls_together_covers_no_ground(tmp_path: Path) -> None:
    """A ring that runs there and back beside a sound shape is told, with no area."""
    flat = [(0.0, 0.0), (100.0, 0.0), (0.0, 0.0), (0.0, 0.0)]
    features = [feature(polygon(rectangle(*WHOLE)), zone="A", rate=85), feature(polygon(flat), zone="B", rate=85)]
    one = the(check([write_geojson(tmp_path / "map.geojson", features)]), "invalid-shape")
    assert one.severity == "note"
    assert one.message.startswith("B (record 2) ")
    assert one.message.endswith("covers no ground.")


def test_many_broken_shapes_are_told_together(tmp_path: Path) -> None:
    """Twenty bow ties: twelve one by one, eight together."""
    ties = []
    for at in range(20):
        x = -200.0 + 20 * at
        ties.append([(x, 0.0), (x + 10, 10.0 + at), (x + 10, 0.0), (x, 10.0 + at), (x, 0.0)])
    path = write_geojson(tmp_path / "map.geojson", [feature(polygon(one), rate=85) for one in ties])
    found = named(check([path]), "invalid-shape")
    assert len(found) == 13
    assert found[-1].message.startswith("8 more shapes are broken; mended, their areas change by ")
    assert {one.severity for one in found} == {"caution"}


def test_a_place_lies_where_it_is_said(tmp_path: Path) -> None:
    """The shape of a finding is in longitude and latitude, where the gap is."""
    boxes = [(-210, 0, -20, 250), (0, 0, 210, 250)]
    features = [feature(polygon(rectangle(*one)), rate=85) for one in boxes]
    one = the(check([write_geojson(tmp_path / "map.geojson", features)], boundary=write_boundary(tmp_path)), "gap")
    known = shapely.Polygon(polygon(rectangle(-20, 0, 0, 250))["coordinates"][0])
    assert one.where is not None
    assert shapely.symmetric_difference(one.where, known).area <= 1e-3 * known.area
