"""Rules about shapes: where the map lies, what it leaves out and covers twice, and what no machine can hold."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic
from support_cases import feature, moved, polygon, rectangle, write_boundary, write_bowtie, write_geojson
from support_checks import named, plan_for, strips, the
from support_fields import SPREADER, keep_out, write_box, write_points

from vrx.checks.telling import share_text
from vrx.runs.check import check

MACHINE = """
[machine]
name = "m"
width = "{width} m"
[[machine.drive]]
name = "all"
span = ["-{half} m", "{half} m"]
product = "Granular"
"""
SHAPE_RULES = (
    "other-field", "in-keep-out", "invalid-shape", "duplicate-shape", "overlap", "gap", "not-covered", "outside-field",
    "thin-part", "tiny-part", "sliver",
)  # fmt: skip


def boxes(folder: Path, *boxes: tuple[float, float, float, float, Any]) -> Path:
    """Write rectangles, west, south, east, north in local metres, each with its rate."""
    return write_geojson(
        folder / "map.geojson",
        [feature(polygon(rectangle(*box[:4])), zone=f"Z{at}", rate=box[4]) for at, box in enumerate(boxes, start=1)],
    )


def shape_ids(found: Any) -> list[str]:
    return [one.id for one in found.findings if one.id in SHAPE_RULES]


WHOLE = (-210, 0, 210, 250)
"""The field: 10.5 ha."""


def test_a_map_that_fits_its_field_gets_no_word(tmp_path: Path) -> None:
    """Three strips that share their borders and fill the boundary."""
    assert shape_ids(check([strips(tmp_path, (85, 115, 140))], plan=plan_for(tmp_path))) == []


def test_another_field_is_told_with_the_way_there(tmp_path: Path) -> None:
    """Distance and direction from the middle of the field to the middle of the map, by GeographicLib."""
    ring = rectangle(12_000, 9_000, 12_400, 9_250)
    far = write_geojson(tmp_path / "far.geojson", [feature(polygon(ring), rate=85)])
    one = the(check([far], boundary=write_boundary(tmp_path)), "other-field")
    assert one.severity == "stop"
    (start, end) = moved([(0, 125), (12_200, 9_125)], "EPSG:4326")
    known = Geodesic.WGS84.Inverse(start[1], start[0], end[1], end[0])
    assert f"it lies {known['s12'] / 1000:.2f} km" in one.message
    assert "north-east of it" in one.message


def test_a_map_on_another_continent_is_another_field(tmp_path: Path) -> None:
    """So far away that the field's own coordinates do not reach."""
    ring = [(145.0, -30.0), (145.01, -30.0), (145.01, -29.99), (145.0, -29.99), (145.0, -30.0)]
    far = write_geojson(tmp_path / "far.geojson", [feature({"type": "Polygon", "coordinates": [ring]}, rate=85)])
    found = check([far], boundary=write_boundary(tmp_path))
    assert shape_ids(found) == ["other-field"]


def test_a_map_that_touches_its_field_is_no_other_field(tmp_path: Path) -> None:
    """Half of it in the field: that is another complaint."""
    found = check([boxes(tmp_path, (0, 0, 420, 250, 85))], boundary=write_boundary(tmp_path))
    assert shape_ids(found) == ["not-covered", "outside-field"]


def test_a_gap_and_a_sliver(tmp_path: Path) -> None:
    """10 m between two shapes (0.25 ha) is a gap; 0.2 m (50 m2) is too small to treat."""
    found = check(
        [boxes(tmp_path, (-210, 0, -40, 250, 85), (-30, 0, 90, 250, 115), (90.2, 0, 210, 250, 140))],
        boundary=write_boundary(tmp_path),
    )
    gap, sliver = the(found, "gap"), the(found, "sliver")
    assert gap.area_m2 == pytest.approx(2500, rel=1e-4)
    assert "A gap of 0.2500 ha" in gap.message
    assert "longitude -96.00041, latitude 40.05113" in gap.message
    assert (gap.severity, sliver.severity) == ("caution", "note")
    assert sliver.area_m2 == pytest.approx(50, rel=1e-3)
    assert "50.00 m2 (538.2 ft2) in all, up to 0.20 m" in sliver.message
    assert shape_ids(found) == ["gap", "sliver"]


@pytest.mark.parametrize(
    ("width", "rule"), [pytest.param(0.80, "sliver", id="200 m2"), pytest.param(0.82, "gap", id="205 m2")]
)
def test_what_is_too_small_to_treat(tmp_path: Path, width: float, rule: str) -> None:
    """0.05 ac are 202.34 m2 unless the plan says otherwise."""
    found = check(
        [boxes(tmp_path, (-210, 0, 0, 250, 85), (width, 0, 210, 250, 115))], boundary=write_boundary(tmp_path)
    )
    assert shape_ids(found) == [rule]


def test_a_plan_says_what_is_too_small(tmp_path: Path) -> None:
    """With fill_gaps of 0.3 ha a gap of 0.25 ha is a sliver; and the default rate that it gets is told elsewhere."""
    plan = plan_for(tmp_path)
    plan.write_text('fill_gaps = "0.3 ha"\n' + plan.read_text(), encoding="utf-8")
    found = check([boxes(tmp_path, (-210, 0, -10, 250, 85), (0, 0, 210, 250, 115))], plan=plan)
    assert "gap" not in shape_ids(found)
    assert the(found, "sliver").area_m2 == pytest.approx(2500, rel=1e-4)


def test_a_gap_names_the_default_rate_of_the_product(tmp_path: Path) -> None:
    """What the machine does there, as the product has it."""
    found = check([boxes(tmp_path, (-210, 0, -10, 250, 85), (0, 0, 210, 250, 115))], plan=plan_for(tmp_path))
    assert "the default rate, 0 kg/ha as the product has it" in the(found, "gap").message


def test_a_hole_in_a_map_without_a_boundary(tmp_path: Path) -> None:
    """It may be a gap or a keep-out: nobody knows the field."""
    ring, hole = rectangle(*WHOLE), rectangle(0, 100, 40, 150)
    path = write_geojson(tmp_path / "map.geojson", [feature(polygon(ring, hole), rate=85)])
    one = the(check([path]), "gap")
    assert "A hole in the map, a gap or a keep-out, of 0.2000 ha" in one.message
    assert one.area_m2 == pytest.approx(2000, rel=1e-4)


def test_a_keep_out_is_no_gap(tmp_path: Path) -> None:
    """A hole where the plan has a keep-out is what a map may well have."""
    write_box(tmp_path / "hut.geojson", 0, 100, 40, 150)
    ring, hole = rectangle(*WHOLE), rectangle(0, 100, 40, 150)
    path = write_geojson(tmp_path / "map.geojson", [feature(polygon(ring, hole), rate=85)])
    assert shape_ids(check([path], plan=plan_for(tmp_path, rest=keep_out("hut.geojson")))) == []


@pytest.mark.parametrize(
    ("edge", "severity"),
    [
        pytest.param(209.985, None, id="1.5 cm: rounding"),
        pytest.param(209.6, "note", id="0.095 % of the field"),
        pytest.param(209.5, "caution", id="0.12 % of the field"),
        pytest.param(10, "caution", id="half of it"),
    ],
)
def test_a_map_smaller_than_its_field(tmp_path: Path, edge: float, severity: str | None) -> None:
    """A strip along the boundary is left out; up to a thousandth of the field that is only noted."""
    found = check([boxes(tmp_path, (-210, 0, edge, 250, 85))], boundary=write_boundary(tmp_path))
    assert [one.severity for one in named(found, "not-covered")] == ([severity] if severity else [])
    if severity:
        one = the(found, "not-covered")
        assert one.area_m2 == pytest.approx((210 - edge) * 250, rel=1e-3)
        assert f"{share_text((210 - edge) / 420)} of it" in one.message
    assert "gap" not in shape_ids(found)


@pytest.mark.parametrize(
    ("edge", "severity"),
    [
        pytest.param(210.015, None, id="1.5 cm: rounding"),
        pytest.param(210.45, "note", id="45 cm"),
        pytest.param(210.6, "caution", id="60 cm, 0.14 %"),
        pytest.param(260, "caution", id="50 m"),
    ],
)
def test_a_map_larger_than_its_field(tmp_path: Path, edge: float, severity: str | None) -> None:
    """What reaches out less than half a metre is only noted."""
    found = check([boxes(tmp_path, (-210, 0, edge, 250, 85))], boundary=write_boundary(tmp_path))
    assert [one.severity for one in named(found, "outside-field")] == ([severity] if severity else [])
    if severity:
        one = the(found, "outside-field")
        assert one.area_m2 == pytest.approx((edge - 210) * 250, rel=1e-2)
        assert one.features == (1,)


def test_rate_0_outside_the_field_is_no_harm(tmp_path: Path) -> None:
    """A frame of 0 around the field is how some maps are made."""
    found = check([boxes(tmp_path, (*WHOLE, 85), (210, 0, 400, 250, 0))], boundary=write_boundary(tmp_path))
    assert "outside-field" not in shape_ids(found)
    half = check([boxes(tmp_path, (*WHOLE, 85), (210, 0, 400, 250, 0), (-300, 0, -210, 250, 90))],
                 boundary=tmp_path / "boundary.geojson")  # fmt: skip
    one = the(half, "outside-field")
    assert one.area_m2 == pytest.approx(90 * 250, rel=1e-4)
    assert one.features == (3,)


def test_a_rate_in_a_keep_out_stops(tmp_path: Path) -> None:
    """30 m by 30 m around a hut, named with its set-back, the record and its rate."""
    write_box(tmp_path / "hut.geojson", 0, 100, 30, 130)
    plan = plan_for(tmp_path, rest=keep_out("hut.geojson", reason='"hut"'))
    one = the(check([boxes(tmp_path, (*WHOLE, 85))], plan=plan), "in-keep-out")
    assert one.severity == "stop"
    assert one.area_m2 == pytest.approx(900, rel=1e-4)
    assert "in the keep-out hut, on 0.0900 ha (0.222 ac): Z1 (record 1) at 85 kg/ha" in one.message


def test_a_set_back_counts_as_its_keep_out(tmp_path: Path) -> None:
    """A well of 20 m set-back is a circle of 0.1257 ha, of which its drawing leaves at most half a percent out."""
    write_points(tmp_path / "well.geojson", [(0, 100)])
    plan = plan_for(tmp_path, rest=keep_out("well.geojson", set_back='"20 m"', reason='"well"'))
    one = the(check([boxes(tmp_path, (*WHOLE, 85))], plan=plan), "in-keep-out")
    assert one.area_m2 == pytest.approx(3.141592653589793 * 400, rel=6e-3)
    assert "the keep-out well (set-back 20.00 m (65.6 ft))" in one.message


@pytest.mark.parametrize(
    "changes",
    [
        pytest.param({"rate": 0, "products": ""}, id="rate 0 there"),
        pytest.param({"rate": 85, "products": '["Other"]'}, id="it binds another product"),
    ],
)
def test_keep_outs_that_are_kept(tmp_path: Path, changes: dict[str, Any]) -> None:
    """Rate 0 there, or a keep-out that is about another product, are what the plan asks for."""
    write_box(tmp_path / "hut.geojson", 0, 100, 30, 130)
    products = {"products": changes["products"]} if changes["products"] else {}
    other = '\n[[product]]\nname = "Other"\nform = "granular"\nuse = "other"\nmin = "1 kg/ha"\nmax = "9 kg/ha"\n'
    plan = plan_for(
        tmp_path,
        products=SPREADER + (f'{other}step = "1 kg/ha"\n' if products else ""),
        rates=("Granular", "Other") if products else ("Granular",),
        rest=keep_out("hut.geojson", **products),
    )
    ring, hole = rectangle(*WHOLE), rectangle(0, 100, 30, 130)
    path = write_geojson(
        tmp_path / "map.geojson",
        [feature(polygon(ring, hole), rate=85), feature(polygon(hole), rate=changes["rate"])],
    )
    assert "in-keep-out" not in shape_ids(check([path], plan=plan, product="Granular"))


@pytest.mark.parametrize(
    ("into", "severity"), [pytest.param(0.4, "note", id="40 cm"), pytest.param(0.6, "stop", id="60 cm")]
)
def test_a_hand_s_breadth_into_a_keep_out(tmp_path: Path, into: float, severity: str) -> None:
    """What is narrower than half a metre is noted: a machine holds no edge more exactly."""
    write_box(tmp_path / "ditch.geojson", 150, 0, 210, 250)
    plan = plan_for(tmp_path, rest=keep_out("ditch.geojson", reason='"ditch"'))
    found = check([boxes(tmp_path, (-210, 0, 150 + into, 250, 85), (150 + into, 0, 210, 250, 0))], plan=plan)
    assert the(found, "in-keep-out").severity == severity


def test_a_broken_shape_is_told_with_its_areas(tmp_path: Path) -> None:
    """A bow tie of 4.5 ha crosses itself: its two lobes cancel where areas have signs, and are 2.25 ha together."""
    found = check([write_bowtie(tmp_path)], boundary=write_boundary(tmp_path))
    one = the(found, "invalid-shape")
    assert one.severity == "caution"
    assert one.message.startswith("A (record 1) self-intersects at ")
    assert "its area goes from 0.00 m2" in one.message
    assert "to 2.2500 ha" in one.message
    assert one.features == (1,)


def test_a_spur_moves_nothing_and_is_noted(tmp_path: Path) -> None:
    """An edge that runs out and back has no area."""
    ring = [
        (-210.0, 0.0),
        (210.0, 0.0),
        (210.0, 100.0),
        (270.0, 100.0),
        (210.0, 100.0),
        (210.0, 250.0),
        (-210.0, 250.0),
    ]
    path = write_geojson(tmp_path / "map.geojson", [feature(polygon([*ring, ring[0]]), rate=85)])
    assert the(check([path], boundary=write_boundary(tmp_path)), "invalid-shape").severity == "note"


@pytest.mark.parametrize(
    ("rate", "severity"), [pytest.param(85, "note", id="one rate"), pytest.param(90, "stop", id="two rates")]
)
def test_the_same_shape_twice(tmp_path: Path, rate: int, severity: str) -> None:
    """It is told as such, and not as an overlap."""
    found = check([boxes(tmp_path, (*WHOLE, 85), (*WHOLE, rate))], boundary=write_boundary(tmp_path))
    one = the(found, "duplicate-shape")
    assert one.severity == severity
    assert one.area_m2 == pytest.approx(105_000, rel=1e-4)
    assert one.features == (1, 2)
    assert "overlap" not in shape_ids(found)


def test_nearly_the_same_shape_is_an_overlap(tmp_path: Path) -> None:
    """A decimetre more is another shape."""
    found = check([boxes(tmp_path, (-210, 0, 209.9, 250, 90), (*WHOLE, 85))], boundary=write_boundary(tmp_path))
    assert shape_ids(found) == ["overlap"]


@pytest.mark.parametrize(
    ("reach", "rate", "severity"),
    [
        pytest.param(15, 115, "stop", id="15 m, two rates"),
        pytest.param(15, 85, "note", id="15 m, one rate"),
        pytest.param(0.41, 115, "caution", id="less than 0.1 % of the field, two rates"),
        pytest.param(0.43, 115, "stop", id="more than 0.1 % of the field, two rates"),
        pytest.param(0.015, 115, None, id="1.5 cm: rounding"),
    ],
)
def test_ground_covered_twice(tmp_path: Path, reach: float, rate: int, severity: str | None) -> None:
    """Two strips that cross: 0.1 % of the field are 105 m2, a strip of 0.42 m."""
    found = check(
        [boxes(tmp_path, (-210, 0, reach, 250, 85), (0, 0, 210, 250, rate))], boundary=write_boundary(tmp_path)
    )
    assert [one.severity for one in named(found, "overlap")] == ([severity] if severity else [])
    if severity:
        one = the(found, "overlap")
        assert one.area_m2 == pytest.approx(reach * 250, rel=1e-3)
        assert one.features == (1, 2)


def test_a_rate_and_none_on_the_same_ground_differ(tmp_path: Path) -> None:
    """A display takes the one or nothing."""
    found = check([boxes(tmp_path, (-210, 0, 15, 250, 85), (0, 0, 210, 250, None))], boundary=write_boundary(tmp_path))
    one = the(found, "overlap")
    assert one.severity == "stop"
    assert "no rate" in one.message


@pytest.mark.parametrize(
    ("width", "found"), [pytest.param(11.9, True, id="narrower"), pytest.param(12.0, False, id="just as wide")]
)
def test_a_part_narrower_than_the_machine(tmp_path: Path, width: float, found: bool) -> None:
    """A strip between two others, against a machine of 12 m that runs as one."""
    plan = plan_for(tmp_path, rest=MACHINE.format(width=12, half=6))
    said = check([boxes(tmp_path, (-210, 0, 0, 250, 85), (0, 0, width, 250, 115), (width, 0, 210, 250, 85))], plan=plan)
    assert bool(named(said, "thin-part")) is found
    if found:
        one = the(said, "thin-part")
        assert one.severity == "caution"
        assert one.area_m2 == pytest.approx(width * 250, rel=1e-3)
        assert "A part at 115 kg/ha" in one.message
        assert "narrower than the 12.00 m (39.4 ft)" in one.message


def test_neighbours_of_one_rate_are_one_part(tmp_path: Path) -> None:
    """Three strips of 5 m with one rate are 15 m wide together."""
    plan = plan_for(tmp_path, rest=MACHINE.format(width=12, half=6))
    edges = [0, 5, 10, 15]
    thin = [(a, 0, b, 250, 115) for a, b in pairwise(edges)]
    said = check([boxes(tmp_path, (-210, 0, 0, 250, 85), *thin, (15, 0, 210, 250, 85))], plan=plan)
    assert not named(said, "thin-part")


@pytest.mark.parametrize(
    ("side", "rate", "severity"),
    [
        pytest.param(20.0, 115, "caution", id="400 m2"),
        pytest.param(20.0, 0, "note", id="400 m2 at 0"),
        pytest.param(20.2, 115, None, id="408 m2"),
    ],
)
def test_a_part_smaller_than_is_treated(tmp_path: Path, side: float, rate: int, severity: str | None) -> None:
    """A square in the middle, against 0.1 ac (404.69 m2) unless the plan says otherwise."""
    ring, hole = rectangle(*WHOLE), rectangle(0, 100, side, 100 + side)
    path = write_geojson(
        tmp_path / "map.geojson", [feature(polygon(ring, hole), rate=85), feature(polygon(hole), rate=rate)]
    )
    found = check([path], plan=plan_for(tmp_path))
    assert [one.severity for one in named(found, "tiny-part")] == ([severity] if severity else [])
    if severity:
        assert f"A part at {rate} kg/ha, 0.0400 ha (0.099 ac)" in the(found, "tiny-part").message


def test_many_places_are_told_as_one(tmp_path: Path) -> None:
    """Of twenty gaps twelve are told one by one, and the other eight together."""
    edges = [-210 + 20 * at for at in range(22)]
    strips_ = [(a, 0, b - 2, 250, 85) for a, b in pairwise(edges)]
    found = named(check([boxes(tmp_path, *strips_)], boundary=write_boundary(tmp_path)), "gap")
    assert len(found) == 13
    assert "Ground in 8 more gaps, 0.4000 ha" in found[-1].message
