"""Boundary, keep-outs and set-backs against closed forms, the grid against its scale factor, the stated area."""

from __future__ import annotations

import json
import re
from math import pi
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from support_cases import (
    FRAME,
    LATITUDE,
    LONGITUDE,
    UTM,
    feature,
    moved,
    polygon,
    rectangle,
    write_geojson,
    write_shapefile,
    write_two_utm_zones,
    zone_ring,
)
from support_fields import FIELD_HA, HEIGHT_M, SECOND, WIDTH_M, bench, keep_out, write_box, write_line, write_points
from support_plans import Outcome, build_plan, plan_text

from vrx.errors import GeometryError
from vrx.geo.crs import frame_at, move_points
from vrx.model.layer import Layer
from vrx.runs.ground import lay_ground
from vrx.runs.job import read_job
from vrx.runs.mend import mend

Capture = pytest.CaptureFixture[str]
FIELD_M2 = FIELD_HA * 1e4
# A circle's polygon of 128 edges drawn around it is larger by (pi / 128)^2 / 3 = 2.0e-4.
AROUND = 2.1e-4


def kept_m2(out: Outcome, *, within: float = 1e-7) -> float:
    """Return the area kept out for every product; what is treated is the rest."""
    assert out.code == 0, out.text
    field = out.said["field"]
    assert field["geodesic_area_m2"] + field["keep_out_area_m2"] == pytest.approx(field["boundary_area_m2"], rel=1e-7)
    assert field["boundary_area_m2"] == pytest.approx(FIELD_M2, rel=within)
    product = out.said["products"][0]
    assert sum(row["geodesic_area_m2"] for row in product["zones"]) == pytest.approx(
        product["geodesic_area_m2"], rel=1e-9
    )
    return float(field["keep_out_area_m2"])


def written(out: Outcome) -> list[tuple[shapely.Polygon, float]]:
    """Return polygons in local metres with their rates, as the GeoJSON has them."""
    features = json.loads(out.file("geojson").read_text(encoding="utf-8"))["features"]
    change = pyproj.Transformer.from_crs("EPSG:4326", FRAME, always_xy=True)
    shapes = [shapely.geometry.shape(one["geometry"]) for one in features]
    local = [shapely.transform(one, lambda at: np.column_stack(change.transform(at[:, 0], at[:, 1]))) for one in shapes]
    return list(zip(local, (one["properties"]["RATE"] for one in features), strict=True))


# --- keep-outs against closed forms


def test_a_points_set_back_is_a_circle(tmp_path: Path, capsys: Capture) -> None:
    """A point with 30 m set-back takes pi r^2, and nothing but 0 is written nearer than 30 m.

    Source: the area of a circle; distances by geographiclib on the written coordinates.
    """
    write_points(tmp_path / "well.geojson", [(20.0, 120.0)])
    out = build_plan(tmp_path, bench(tmp_path, rest=keep_out("well.geojson", set_back='"30 m"')), capsys)
    circle = pi * 30**2
    assert circle <= kept_m2(out) <= circle * (1 + AROUND)
    well = shapely.Point(20.0, 120.0)
    nearest = min(shape.distance(well) for shape, rate in written(out) if rate > 0)
    assert 30 - 0.002 <= nearest <= 30 + 0.02  # vertices are rounded to 0.6 mm
    ((longitude, latitude),) = moved([(20.0, 120.0)], "EPSG:4326")
    features = json.loads(out.file("geojson").read_text(encoding="utf-8"))["features"]
    rings = [ring for one in features if one["properties"]["RATE"] == 0 for ring in one["geometry"]["coordinates"]]
    reach = [Geodesic.WGS84.Inverse(latitude, longitude, y, x)["s12"] for ring in rings for x, y in ring]
    assert min(reach) >= 30 - 0.002
    assert max(reach) <= 30.02


def test_a_lines_set_back_is_a_band_with_round_ends(tmp_path: Path, capsys: Capture) -> None:
    """A straight line of 100 m with 12 m set-back takes 2 x 12 x 100 + pi 12^2 square metres.

    Source: the area of a stadium.
    """
    write_line(tmp_path / "pipe.geojson", [(-50.0, 100.0), (50.0, 100.0)])
    out = build_plan(tmp_path, bench(tmp_path, rest=keep_out("pipe.geojson", set_back='"12 m"')), capsys)
    stadium = 2 * 12 * 100 + pi * 12**2
    # The band as well is drawn 1/cos(pi/128) wider: 3.0e-4.
    assert stadium <= kept_m2(out) <= stadium * (1 + 4e-4)


def test_a_polygons_set_back_rounds_its_corners(tmp_path: Path, capsys: Capture) -> None:
    """A pond of 40 by 30 m with 10 m set-back takes 40 x 30 + 2 (40 + 30) x 10 + pi 10^2 (Steiner's formula)."""
    write_box(tmp_path / "pond.geojson", 0.0, 100.0, 40.0, 130.0)
    plain = build_plan(tmp_path, bench(tmp_path, rest=keep_out("pond.geojson")), capsys)
    assert kept_m2(plain) == pytest.approx(1200, rel=1e-6)
    wide = keep_out("pond.geojson", set_back='"10 m"')
    out = build_plan(tmp_path, bench(tmp_path, rest=wide), capsys, "--force")
    steiner = 40 * 30 + 2 * (40 + 30) * 10 + pi * 10**2
    assert steiner <= kept_m2(out) <= steiner * (1 + 4e-4)


def test_a_set_back_reaches_in_from_outside(tmp_path: Path, capsys: Capture) -> None:
    """A ditch 5 m outside the southern edge with 20 m set-back takes a strip 15 m deep along all of it."""
    write_line(tmp_path / "ditch.geojson", [(-400.0, -5.0), (400.0, -5.0)])
    out = build_plan(tmp_path, bench(tmp_path, rest=keep_out("ditch.geojson", set_back='"20 m"')), capsys)
    assert kept_m2(out) == pytest.approx(15 * WIDTH_M, rel=6e-4)  # 20 m drawn as 20.006 m, an edge over 800 m
    assert kept_m2(out) >= 15 * WIDTH_M - 1


def test_a_keep_out_is_not_lost_at_the_boundary(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the geometry library loses what a keep-out has in common with the field, it is noticed."""
    write_box(tmp_path / "pond.geojson", -400.0, 100.0, -170.0, 130.0)
    plan = tmp_path / "plan.toml"
    plan.write_text(bench(tmp_path, rest=keep_out("pond.geojson", reason='"pond"')), encoding="utf-8")
    right, lost = shapely.intersection, shapely.Polygon()
    monkeypatch.setattr(shapely, "intersection", lambda *_, **__: lost)
    with pytest.raises(GeometryError, match="do not add up") as caught:
        lay_ground(read_job(plan))
    assert caught.value.where == "keep-out pond"
    monkeypatch.setattr(
        shapely, "intersection", lambda *of, grid_size=None: right(*of, grid_size=grid_size) if grid_size else lost
    )
    (pond,) = lay_ground(read_job(plan)).ground.keep_outs
    assert pond.shape.area == pytest.approx(40 * 30, rel=1e-6)


def test_a_set_back_in_feet_is_international_feet(tmp_path: Path, capsys: Capture) -> None:
    """100 ft are 30.48 m: the circle is pi 30.48^2. Source: NIST SP 811, 1 ft = 0.3048 m."""
    write_points(tmp_path / "well.geojson", [(20.0, 120.0)])
    out = build_plan(tmp_path, bench(tmp_path, rest=keep_out("well.geojson", set_back='"100 ft"')), capsys)
    assert kept_m2(out) == pytest.approx(pi * 30.48**2, rel=AROUND)


def test_keep_outs_that_overlap_count_once(tmp_path: Path, capsys: Capture) -> None:
    """Two rectangles of 40 x 30 m, the second 20 m further on, take 60 x 30 m."""
    write_box(tmp_path / "one.geojson", 0.0, 100.0, 40.0, 130.0)
    write_box(tmp_path / "two.geojson", 20.0, 100.0, 60.0, 130.0)
    plan = bench(tmp_path, rest=keep_out("one.geojson") + keep_out("two.geojson"))
    assert kept_m2(build_plan(tmp_path, plan, capsys)) == pytest.approx(60 * 30, rel=1e-6)


def test_two_points_of_one_file_whose_circles_overlap_count_once(tmp_path: Path, capsys: Capture) -> None:
    """Two circles of radius 20 m, their centres 20 m apart, share a lens.

    Source: the lens of two equal circles, 2 r^2 acos(d / 2r) - d/2 sqrt(4 r^2 - d^2).
    """
    write_points(tmp_path / "wells.geojson", [(0.0, 120.0), (20.0, 120.0)])
    out = build_plan(tmp_path, bench(tmp_path, rest=keep_out("wells.geojson", set_back='"20 m"')), capsys)
    lens = 2 * 20**2 * np.arccos(0.5) - 10 * np.sqrt(4 * 20**2 - 20**2)
    assert kept_m2(out) == pytest.approx(2 * pi * 20**2 - lens, rel=2 * AROUND)


def test_a_keep_out_outside_is_noted_and_changes_nothing(tmp_path: Path, capsys: Capture) -> None:
    """A hut 100 m away does not reach into the field, and that is said with the distance."""
    write_box(tmp_path / "hut.geojson", 310.0, 0.0, 330.0, 20.0)
    out = build_plan(tmp_path, bench(tmp_path, rest=keep_out("hut.geojson", reason='"hut"')), capsys)
    assert kept_m2(out) == 0
    (note,) = out.named("keep-out-outside")
    assert "hut" in note["message"]
    assert "100.00 m" in note["message"]
    assert note["severity"] == "note"


@pytest.mark.parametrize(
    ("metres", "severity"),
    [
        pytest.param(440.0, "note", id="less than the field's width and the set-back away"),
        pytest.param(460.0, "caution", id="more"),
    ],
)
def test_a_keep_out_elsewhere_is_a_caution(metres: float, severity: str, tmp_path: Path, capsys: Capture) -> None:
    """A well farther away than the field is wide, 420 m, and its set-back of 30 m is of another field, or misplaced."""
    write_points(tmp_path / "well.geojson", [(210.0 + metres, 120.0)])
    out = build_plan(tmp_path, bench(tmp_path, rest=keep_out("well.geojson", set_back='"30 m"')), capsys)
    (finding,) = out.named("keep-out-outside")
    assert finding["severity"] == severity
    assert f"{metres:.2f} m" in finding["message"]


def test_a_keep_out_in_the_wrong_zone_is_a_caution_with_its_distance(tmp_path: Path, capsys: Capture) -> None:
    """Metres of UTM zone 14 read as zone 15 lie six degrees to the east: the distance by geographiclib."""
    ring = moved(rectangle(0.0, 100.0, 40.0, 130.0), UTM)
    write_shapefile(tmp_path, "pond", [[ring[::-1]]], [["A", "0"]], crs="EPSG:32615")
    out = build_plan(tmp_path, bench(tmp_path, rest=keep_out("pond.shp")), capsys)
    (finding,) = out.named("keep-out-outside")
    assert finding["severity"] == "caution"
    away = Geodesic.WGS84.Inverse(LATITUDE, LONGITUDE, LATITUDE, LONGITUDE + 6)["s12"] / 1000
    (said,) = re.findall(r"lies (\d+) km away", finding["message"])
    assert float(said) == pytest.approx(away, abs=2)


def test_a_keep_out_with_latitude_first_is_refused(tmp_path: Path, capsys: Capture) -> None:
    """Where both orders are places on earth, the field tells which one is right."""
    x, y = 10.0, 50.0
    write_boxes(tmp_path / "zones.geojson", [(x, y, x + 0.01, y + 0.005)])
    write_geojson(tmp_path / "well.geojson", [feature({"type": "Point", "coordinates": [y + 0.002, x + 0.005]})])
    rest = keep_out("well.geojson", set_back='"30 m"')
    out = build_plan(tmp_path, plan_text(zones="zones.geojson", boundary="zones.geojson", rest=rest), capsys)
    assert out.code == 2
    assert "look swapped" in out.text
    assert "well.geojson" in out.text


def test_a_keep_out_without_a_shape_stops(tmp_path: Path, capsys: Capture) -> None:
    """A record without a shape is a caution, as in every layer; where there is nothing else, nothing is kept out."""
    well = {"type": "Point", "coordinates": list(moved([(20.0, 120.0)], "EPSG:4326")[0])}
    plan = bench(tmp_path, rest=keep_out("well.geojson", set_back='"30 m"'))
    write_geojson(tmp_path / "well.geojson", [feature(well), feature(None)])
    out = build_plan(tmp_path, plan, capsys)
    assert out.code == 0
    assert [(one["id"], one["severity"], one["features"]) for one in out.findings] == [("no-shape", "caution", [2])]
    write_geojson(tmp_path / "well.geojson", [feature(None)])
    out = build_plan(tmp_path, plan, capsys, "--force")
    assert out.code == 1
    assert [one["severity"] for one in out.named("keep-out-empty")] == ["stop"]
    assert not out.named("keep-out-outside")


def test_a_keep_out_over_the_whole_field_leaves_a_map_of_zeros(tmp_path: Path, capsys: Capture) -> None:
    """Where nothing may be treated, every rate and total is 0, and a caution says so for each product."""
    write_box(tmp_path / "reserve.geojson", -300.0, -100.0, 300.0, 400.0)
    out = build_plan(tmp_path, bench(tmp_path, rest=keep_out("reserve.geojson")), capsys)
    assert out.code == 0, out.text
    (finding,) = out.named("nothing-to-treat")
    assert (finding["severity"], finding["product"]) == ("caution", "Granular")
    assert out.said["products"][0]["total_given"] == 0
    assert out.said["field"]["keep_out_area_m2"] == pytest.approx(FIELD_M2, rel=1e-7)
    assert {rate for _, rate in written(out)} == {0}


def test_a_keep_out_binds_only_the_products_it_names(tmp_path: Path, capsys: Capture) -> None:
    """A pond that binds the second product alone leaves all ground to the first."""
    write_box(tmp_path / "pond.geojson", 0.0, 100.0, 40.0, 130.0)
    rest = keep_out("pond.geojson", products='["Second"]') + SECOND
    out = build_plan(tmp_path, bench(tmp_path, rest=rest), capsys)
    first, second = out.said["products"]
    assert out.said["field"]["keep_out_area_m2"] == 0
    assert (first["keep_out_area_m2"], first["geodesic_area_m2"]) == (0, pytest.approx(FIELD_M2, rel=1e-7))
    assert second["keep_out_area_m2"] == pytest.approx(1200, rel=1e-6)
    assert second["geodesic_area_m2"] == pytest.approx(FIELD_M2 - 1200, rel=1e-7)
    assert second["total_given"] == pytest.approx(4.5 * 10 + (3 - 0.12) * 20.5, rel=1e-6)


def test_a_point_without_a_set_back_is_refused(tmp_path: Path, capsys: Capture) -> None:
    """It would keep nothing out, so the plan says how far."""
    write_points(tmp_path / "well.geojson", [(20.0, 120.0)])
    out = build_plan(tmp_path, bench(tmp_path, rest=keep_out("well.geojson")), capsys)
    assert out.code == 2
    assert "set_back" in out.text


def test_a_line_beside_a_polygon_in_one_record_keeps_its_set_back(tmp_path: Path, capsys: Capture) -> None:
    """A pond and its ditch drawn as one mixed shape keep out what they do as two records, however they are nested.

    The pond takes 40 x 30 + 2 (40 + 30) x 10 + pi 10^2 square metres, the ditch, 100 m away, 2 x 10 x 100 + pi 10^2:
    Steiner's formula.
    """
    pond = polygon(rectangle(60.0, 100.0, 100.0, 130.0))
    ditch = {"type": "LineString", "coordinates": moved([(-50.0, 50.0), (-50.0, 150.0)], "EPSG:4326")}
    mixed = {"type": "GeometryCollection", "geometries": [pond, ditch]}
    nested = {"type": "GeometryCollection", "geometries": [{"type": "GeometryCollection", "geometries": [mixed]}]}
    plan = bench(tmp_path, rest=keep_out("wet.geojson", set_back='"10 m"'))
    meant = 40 * 30 + 2 * (40 + 30) * 10 + 2 * 10 * 100 + 2 * pi * 10**2
    for geometries in ([pond, ditch], [mixed], [nested]):
        write_geojson(tmp_path / "wet.geojson", [feature(one) for one in geometries])
        out = build_plan(tmp_path, plan, capsys, "--force")
        assert meant <= kept_m2(out) <= meant * (1 + 4e-4)
        assert not out.named("invalid-shape")


def test_a_line_beside_a_polygon_needs_a_set_back(tmp_path: Path, capsys: Capture) -> None:
    """Without one it would keep nothing out, whatever stands beside it in its record."""
    pond = polygon(rectangle(60.0, 100.0, 100.0, 130.0))
    ditch = {"type": "LineString", "coordinates": moved([(-50.0, 50.0), (-50.0, 150.0)], "EPSG:4326")}
    mixed = {"type": "GeometryCollection", "geometries": [pond, ditch]}
    write_geojson(tmp_path / "wet.geojson", [feature(mixed)])
    out = build_plan(tmp_path, bench(tmp_path, rest=keep_out("wet.geojson")), capsys)
    assert out.code == 2
    assert "set_back" in out.text


THERE_AND_BACK = [(-50.0, 50.0), (-50.0, 150.0), (-50.0, 50.0), (-50.0, 50.0)]
# A pond of 40 x 30 m whose outline runs 100 m along its outlet and back.
WITH_OUTLET = [
    (60.0, 100.0),
    (100.0, 100.0),
    (100.0, 130.0),
    (100.0, 230.0),
    (100.0, 130.0),
    (60.0, 130.0),
    (60.0, 100.0),
]


def test_a_ditch_drawn_there_and_back_keeps_its_set_back(tmp_path: Path, capsys: Capture) -> None:
    """A polygon without width keeps out what the line does, 2 x 10 x 100 + pi 10^2 square metres; a caution says so."""
    write_geojson(tmp_path / "ditch.geojson", [feature(polygon(THERE_AND_BACK))])
    plan = bench(tmp_path, rest=keep_out("ditch.geojson", set_back='"10 m"'))
    out = build_plan(tmp_path, plan, capsys)
    stadium = 2 * 10 * 100 + pi * 10**2
    assert stadium <= kept_m2(out) <= stadium * (1 + 4e-4)
    assert [(one["id"], one["severity"]) for one in out.findings] == [("invalid-shape", "caution")]
    assert "record 1 is a polygon without width" in out.text
    strict = build_plan(tmp_path, plan.replace("[field]", 'repairs = "refuse"\n[field]', 1), capsys, "--force")
    assert strict.code == 1


@pytest.mark.parametrize("noise", [1e-15, 1e-14, 1e-13, 1e-11])
def test_a_ditch_drawn_there_and_nearly_the_same_way_back_keeps_its_set_back(noise: float, tmp_path: Path) -> None:
    """A rounding of its coordinates apart, it is a polygon in degrees, and falls together on its way into metres.

    It keeps out what the same course does as a line.
    """
    course = moved([(-50.0, 50.0), (-20.0, 80.0), (-50.0, 150.0)], "EPSG:4326")
    plan = tmp_path / "plan.toml"
    plan.write_text(bench(tmp_path, rest=keep_out("ditch.geojson", set_back='"10 m"')), encoding="utf-8")

    def kept_out(kind: str, coordinates: list[Any]) -> float:
        write_geojson(tmp_path / "ditch.geojson", [feature({"type": kind, "coordinates": coordinates})])
        return sum(one.shape.area for one in lay_ground(read_job(plan)).ground.keep_outs)

    line_m2 = kept_out("LineString", [list(one) for one in course])
    assert line_m2 > 2000
    rng = np.random.default_rng(0)
    for _ in range(24):
        there_and_back = np.array([*course, *course[1::-1]]) + rng.uniform(-noise, noise, (5, 2))
        there_and_back[-1] = there_and_back[0]
        assert kept_out("Polygon", [there_and_back.tolist()]) == pytest.approx(line_m2, rel=1e-4)


def test_an_outlet_of_a_pond_keeps_its_set_back(tmp_path: Path, capsys: Capture) -> None:
    """What a pond's outline runs along and back has no ground, and its set-back all the same.

    Beside the pond's own (Steiner's formula) that is 2 x 10 x 100 + pi 10^2 / 2 less what both have in common: a band
    of 10 m by 10 m west of the outlet, where it leaves the corner, and a quarter of a circle east of it.
    """
    write_geojson(tmp_path / "pond.geojson", [feature(polygon(WITH_OUTLET))])
    out = build_plan(tmp_path, bench(tmp_path, rest=keep_out("pond.geojson", set_back='"10 m"')), capsys)
    pond = 40 * 30 + 2 * (40 + 30) * 10 + pi * 10**2
    outlet = 2 * 10 * 100 + pi * 10**2 / 2 - 10 * 10 - pi * 10**2 / 4
    assert pond + outlet <= kept_m2(out) <= (pond + outlet) * (1 + 4e-4)


def test_a_polygon_without_width_needs_a_set_back(tmp_path: Path, capsys: Capture) -> None:
    """Without one it would keep nothing out, as a line would."""
    write_geojson(tmp_path / "ditch.geojson", [feature(polygon(THERE_AND_BACK))])
    out = build_plan(tmp_path, bench(tmp_path, rest=keep_out("ditch.geojson")), capsys)
    assert out.code == 2
    assert "set_back" in out.text


def test_a_mended_keep_out_is_named_by_its_own_record(tmp_path: Path, capsys: Capture) -> None:
    """A bow-tie in record 2, behind a well in record 1, is record 2 in the finding."""
    ((longitude, latitude),) = moved([(-100.0, 60.0)], "EPSG:4326")
    bow_tie = polygon([(0.0, 100.0), (40.0, 130.0), (40.0, 100.0), (0.0, 130.0), (0.0, 100.0)])
    well = {"type": "Point", "coordinates": [longitude, latitude]}
    write_geojson(tmp_path / "wet.geojson", [feature(well), feature(bow_tie)])
    out = build_plan(tmp_path, bench(tmp_path, rest=keep_out("wet.geojson", set_back='"10 m"')), capsys)
    (finding,) = out.named("invalid-shape")
    assert "record 2 self-intersects" in finding["message"]
    assert finding["features"] == [2]


def test_a_keep_out_smaller_than_any_treatable_area_stays(tmp_path: Path, capsys: Capture) -> None:
    """A pole with 0.5 m set-back is never joined to what lies around it."""
    write_points(tmp_path / "pole.geojson", [(20.0, 120.0)])
    rest = keep_out("pole.geojson", set_back='"0.5 m"') + '[machine]\nname = "wide"\nwidth = "36 m"\n'
    out = build_plan(tmp_path, bench(tmp_path, rest=rest), capsys)
    assert kept_m2(out) == pytest.approx(pi * 0.25, rel=2e-3)
    assert not any(shape.covers(shapely.Point(20.0, 120.0)) for shape, rate in written(out) if rate > 0)


# --- boundaries


def test_a_boundary_in_several_files_is_one_field(tmp_path: Path, capsys: Capture) -> None:
    """Two halves in two UTM zones, with zones of their own, make 10.5 ha without a seam."""
    write_two_utm_zones(tmp_path)
    halves = ["west.shp", "east.shp"]
    plan = bench(tmp_path, boundary=halves, zones=halves, name="ZONE", column="RATE")
    out = build_plan(tmp_path, plan, capsys)
    # At the origin of a projection PROJ returns the very place, elsewhere within a millimetre: the seam starts there.
    assert kept_m2(out, within=2e-6) == 0
    assert out.hectares() == pytest.approx({"West": 5.25, "East": 5.25}, rel=2e-6)
    assert not out.named("gap")
    assert not out.named("sliver")


def test_a_boundary_with_a_pond_in_it(tmp_path: Path, capsys: Capture) -> None:
    """A hole in the boundary is no ground: it has no acres, no rate and no polygon."""
    plan = bench(tmp_path)
    whole, pond = rectangle(-210.0, 0.0, 210.0, HEIGHT_M), rectangle(0.0, 100.0, 40.0, 130.0, clockwise=True)
    write_geojson(tmp_path / "boundary.geojson", [feature(polygon(whole, pond))])
    out = build_plan(tmp_path, plan, capsys)
    assert out.said["field"]["boundary_area_m2"] == pytest.approx(FIELD_M2 - 1200, rel=1e-7)
    assert out.hectares()["B"] == pytest.approx(3 - 0.12, rel=1e-6)
    assert not any(shape.covers(shapely.Point(20.0, 115.0)) for shape, _ in written(out))


def test_a_boundary_of_two_parts_far_apart(tmp_path: Path, capsys: Capture) -> None:
    """Two blocks with a road between them are one field."""
    plan = bench(tmp_path)
    blocks = [rectangle(-210.0, 0.0, -10.0, HEIGHT_M), rectangle(10.0, 0.0, 210.0, HEIGHT_M)]
    rings = [polygon(one)["coordinates"] for one in blocks]
    write_geojson(tmp_path / "boundary.geojson", [feature({"type": "MultiPolygon", "coordinates": rings})])
    out = build_plan(tmp_path, plan, capsys)
    assert out.said["field"]["boundary_area_m2"] == pytest.approx(2 * 200 * HEIGHT_M, rel=1e-7)
    assert sum(out.hectares().values()) == pytest.approx(10.0, rel=1e-6)


def test_zones_of_another_field_are_refused(tmp_path: Path, capsys: Capture) -> None:
    """No zone lies in the field: the plan names the wrong file, and the error says what to look at."""
    plan = bench(tmp_path)
    write_geojson(tmp_path / "boundary.geojson", [feature(polygon(rectangle(2000.0, 0.0, 2400.0, HEIGHT_M)))])
    out = build_plan(tmp_path, plan, capsys)
    assert out.code == 2
    assert "same field" in out.text


@pytest.mark.parametrize(
    ("flipped", "crs"),
    [
        pytest.param("zones", "EPSG:4326", id="zones"),
        pytest.param("boundary", "EPSG:4326", id="boundary"),
        pytest.param("zones", "EPSG:32632", id="zones in a grid"),
        pytest.param("boundary", "EPSG:32632", id="boundary, zones in a grid"),
    ],
)
def test_x_and_y_that_are_swapped_are_named(flipped: str, crs: str, tmp_path: Path, capsys: Capture) -> None:
    """Latitude first is found where both orders are places on earth, as in Europe, and said of the files concerned."""
    x, y = 10.0, 50.0
    change = pyproj.Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    corners = [(x, y), (x + 0.01, y), (x + 0.01, y + 0.005), (x, y + 0.005)]
    drawn = [change.transform(*one) for one in corners]
    if flipped == "zones":
        drawn = [one[::-1] for one in drawn]
    else:
        corners = [one[::-1] for one in corners]
    outline = shapely.geometry.mapping(shapely.Polygon(corners))
    write_geojson(tmp_path / "boundary.geojson", [feature(outline)])
    write_shapefile(
        tmp_path,
        "soils",
        [[shapely.orient_polygons(shapely.Polygon(drawn)).exterior.coords[::-1]]],
        [["A", "50"]],
        crs=crs,
    )
    plan = plan_text(zones="soils.shp", boundary="boundary.geojson", name="ZONE", column="RATE")
    out = build_plan(tmp_path, plan, capsys)
    assert out.code == 2
    assert "look swapped" in out.text
    assert ("soils.shp" if flipped == "zones" else "boundary.geojson") in out.text.partition("and with")[2]


def test_zones_that_are_points_are_called_so(tmp_path: Path, capsys: Capture) -> None:
    """Places of samples are no zones: it is their kind that is wrong, not where they lie."""
    plan = bench(tmp_path)
    write_points(tmp_path / "zones.geojson", [(0.0, 100.0), (50.0, 100.0)])
    out = build_plan(tmp_path, plan.replace('name = "zone"\n', "", 1), capsys)
    assert out.code == 2
    assert "holds no polygons: it holds points" in out.text


def test_a_boundary_of_lines_is_refused(tmp_path: Path, capsys: Capture) -> None:
    """An outline drawn as a line encloses nothing that is said."""
    plan = bench(tmp_path)
    write_line(tmp_path / "boundary.geojson", rectangle(-210.0, 0.0, 210.0, HEIGHT_M))
    out = build_plan(tmp_path, plan, capsys)
    assert out.code == 2
    assert "polygon" in out.text


# --- the grid


@pytest.mark.parametrize(
    "code",
    [
        pytest.param("EPSG:32615", id="its own UTM zone"),
        pytest.param("EPSG:32614", id="the next UTM zone"),
        pytest.param("EPSG:26852", id="state plane, US survey feet"),
        pytest.param("EPSG:3857", id="Web Mercator"),
    ],
)
def test_grid_areas_follow_the_scale_factor(code: str, tmp_path: Path, capsys: Capture) -> None:
    """Grid area over geodesic area is the areal scale of the projection at the field.

    Source: pyproj's factors (PROJ's own differentiation of the projection), at the middle of the field; the factor
    changes by less than 2e-5 across the field.
    """
    out = build_plan(tmp_path, bench(tmp_path, top=f'grid_crs = "{code}"'), capsys)
    field = out.said["field"]
    assert field["grid_crs"] == code
    ((longitude, latitude),) = moved([(0.0, HEIGHT_M / 2)], "EPSG:4326")
    crs = pyproj.CRS(code)
    scale = pyproj.Proj(crs).get_factors(longitude, latitude).areal_scale
    if code == "EPSG:3857":
        # PROJ takes its sphere for the earth here; on the ellipsoid the scales are a / N and a / M over cos(latitude).
        sine = np.sin(np.radians(latitude))
        flat = 1 - 0.00669437999014 * sine**2
        scale = np.sqrt(flat) * flat**1.5 / (1 - 0.00669437999014) / np.cos(np.radians(latitude)) ** 2
    assert field["grid_area_m2"] / field["geodesic_area_m2"] == pytest.approx(scale, rel=3e-5)


def test_auto_is_the_utm_zone_of_the_fields_middle(tmp_path: Path, capsys: Capture) -> None:
    """Burr Oak Bench straddles 96 west; its middle, rounded, lies on the line, which belongs to the eastern zone."""
    out = build_plan(tmp_path, bench(tmp_path), capsys)
    assert out.said["field"]["grid_crs"] == "EPSG:32615"
    assert (LONGITUDE, LATITUDE) == (-96.0, 40.05)


@pytest.mark.parametrize(
    ("code", "word"),
    [
        pytest.param("EPSG:4326", "planar", id="degrees have no area"),
        pytest.param("EPSG:999999", "not known", id="no such code"),
        pytest.param("potato", "not known", id="no CRS at all"),
    ],
)
def test_a_grid_that_is_none_is_refused(code: str, word: str, tmp_path: Path, capsys: Capture) -> None:
    """The error names the grid and what would be accepted."""
    out = build_plan(tmp_path, bench(tmp_path, top=f'grid_crs = "{code}"'), capsys)
    assert out.code == 2
    assert word in out.text
    assert code in out.text
    assert "EPSG code" in out.text


@pytest.mark.parametrize("code", ["EPSG:2193", "EPSG:28355"])
def test_a_grid_of_another_place_is_a_caution(code: str, tmp_path: Path, capsys: Capture) -> None:
    """A grid of the other side of the earth is refused, or measured with a caution, and never without an end."""
    out = build_plan(tmp_path, bench(tmp_path, top=f'grid_crs = "{code}"'), capsys)
    if out.code == 0:
        assert np.isfinite(out.said["field"]["grid_area_m2"])
        (finding,) = out.named("grid-elsewhere")
        assert finding["severity"] == "caution"
        assert code in finding["message"]
        assert pyproj.CRS(code).area_of_use.name in finding["message"]
    else:
        assert out.code == 2
        assert code in out.text


@pytest.mark.parametrize("code", ["auto", "EPSG:32615", "EPSG:32614", "EPSG:26852", "EPSG:3857", "EPSG:5070"])
def test_a_grid_of_this_place_says_nothing(code: str, tmp_path: Path, capsys: Capture) -> None:
    """Neither the next UTM zone nor a grid of the whole country is elsewhere."""
    assert build_plan(tmp_path, bench(tmp_path, top=f'grid_crs = "{code}"'), capsys).findings == []


@pytest.mark.parametrize(
    ("code", "words"),
    [
        pytest.param("EPSG:4978", "no CRS of a map", id="geocentric"),
        pytest.param("EPSG:4979", "no CRS of a map", id="with heights"),
        pytest.param("EPSG:5703", "no CRS of a map", id="heights alone"),
        pytest.param("EPSG:5514", "made for", id="of another country"),
        pytest.param("EPSG:999999", "not known", id="no such code"),
    ],
)
def test_a_receivers_crs_that_cant_hold_the_field_is_refused(
    code: str, words: str, tmp_path: Path, capsys: Capture
) -> None:
    """The key and what would do are named; a disk has nothing to do with it."""
    plan = bench(tmp_path, rest=f'[receiver]\ncrs = "{code}"\n')
    out = build_plan(tmp_path, plan, capsys)
    assert out.code == 2
    assert words in out.text
    assert code in out.text
    assert "disk" not in out.text
    assert "plan.toml: receiver.crs, line " in out.text
    if words != "not known":
        assert "EPSG:32615" in out.text
        only_geojson = plan.replace("[receiver]", '[receiver]\nformats = ["geojson"]')
        assert build_plan(tmp_path, only_geojson, capsys).code == 0


def test_an_old_datum_is_a_caution_with_its_doubt(tmp_path: Path, capsys: Capture) -> None:
    """Zones in NAD27, as well as maps written in it, are good to the accuracy of the shift; told once a CRS."""
    rings = [[moved(zone_ring(zone), "EPSG:26715")[::-1]] for zone in "ABC"]
    write_shapefile(tmp_path, "old", rings, [["A", "85"], ["B", "115"], ["C", "140"]], crs="EPSG:26715")
    plan = bench(tmp_path, zones=["old.shp"], name="ZONE", column="RATE")
    (finding,) = build_plan(tmp_path, plan, capsys).named("crs-accuracy")
    assert finding["severity"] == "caution"
    doubt = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:4267", always_xy=True)
    doubt.transform(LONGITUDE, LATITUDE)
    assert "old.shp: EPSG:26715 stands on another datum" in finding["message"]
    assert f"known to {doubt.get_last_used_operation().accuracy:.2f} m" in finding["message"]
    both = build_plan(tmp_path, plan + '[receiver]\ncrs = "EPSG:26714"\n', capsys, "--force").named("crs-accuracy")
    assert ["The written maps" in one["message"] for one in both] == [False, True]


# --- the stated area


@pytest.mark.parametrize(
    ("stated", "basis", "differs"),
    [
        pytest.param("10.5 ha", "boundary", False, id="right"),
        pytest.param("25.946 ac", "boundary", False, id="right in acres"),
        pytest.param("10.45 ha", "boundary", False, id="0.48 % off"),
        pytest.param("10.44 ha", "boundary", True, id="0.57 % off"),
        pytest.param("10.5 ha", "treated", True, id="the pond is not treated"),
        pytest.param("10.38 ha", "treated", False, id="less the pond"),
    ],
)
def test_the_stated_area_is_compared(stated: str, basis: str, differs: bool, tmp_path: Path, capsys: Capture) -> None:
    """More than half a percent off is a caution with both numbers; the basis says which area is meant."""
    write_box(tmp_path / "pond.geojson", 0.0, 100.0, 40.0, 130.0)
    plan: str = bench(tmp_path, rest=keep_out("pond.geojson"))
    keys: dict[str, Any] = {"stated_area": stated, "stated_basis": basis}
    said = "".join(f'{key} = "{value}"\n' for key, value in keys.items())
    out = build_plan(tmp_path, plan.replace("season = 2027\n", f"season = 2027\n{said}"), capsys)
    found = out.named("area-differs")
    assert bool(found) is differs
    if found:
        assert found[0]["severity"] == "caution"
        assert stated in found[0]["message"]


@pytest.mark.parametrize("far", [1e300, -1e12, float("inf")])
def test_a_vertex_that_is_no_place_on_earth_is_refused(far: float, tmp_path: Path, capsys: Capture) -> None:
    """One flipped bit can throw a vertex anywhere: the record is named, and arithmetic never overflows."""
    shapes, rows = [[moved(zone_ring("A")[::-1], UTM)], [moved(zone_ring("B")[::-1], UTM)]], [["A", "85"], ["B", "115"]]
    shapes[1][0][2] = (far, shapes[1][0][2][1])
    write_shapefile(tmp_path, "wild", shapes, rows)
    out = build_plan(tmp_path, bench(tmp_path, zones="wild.shp", name="ZONE", column="RATE"), capsys)
    assert out.code == 2
    assert "wild.shp" in out.text


def write_boxes(path: Path, boxes: list[tuple[float, float, float, float]]) -> None:
    """Write rectangles of longitude and latitude, with four corners each, as zones 0, 1, 2 ..."""
    shapes = [shapely.geometry.mapping(shapely.box(*one)) for one in boxes]
    write_geojson(path, [feature(shape, zone=str(at), rate=50 + 5 * at) for at, shape in enumerate(shapes)])


@pytest.mark.parametrize(
    "side",
    [
        pytest.param(0.01, id="1 km"),
        pytest.param(0.0225, id="a mile from south to north, and more"),
        pytest.param(0.05, id="5 km"),
        pytest.param(0.2, id="20 km"),
    ],
)
def test_long_edges_lose_no_ground(side: float, tmp_path: Path, capsys: Capture) -> None:
    """Zones whose corners lie on a long straight edge of the boundary, as drawn, fit to it: no gap and no sliver.

    An edge along a parallel bends in the local frame: by 11 mm in 800 m, by 10 cm in 2 km. The areas are compared with
    geographiclib's: of the boundary's four corners, and of a pond whose corners on the boundary lie on the shortest
    line between two of them.
    """
    x, y = 10.0, 50.0
    write_boxes(tmp_path / "boundary.geojson", [(x, y, x + side, y + side)])
    half = x + side / 2
    write_boxes(tmp_path / "zones.geojson", [(x, y, half, y + side), (half, y, x + side, y + side)])
    write_boxes(tmp_path / "pond.geojson", [(x + side / 4, y, x + 3 * side / 4, y + side / 8)])
    rest = keep_out("pond.geojson")
    plan = plan_text(zones="zones.geojson", boundary="boundary.geojson", rest=rest)
    out = build_plan(tmp_path, plan, capsys)
    assert out.code == 0, out.text
    assert out.findings == []

    def measured(*corners: tuple[float, float]) -> float:
        ring = Geodesic.WGS84.Polygon()
        for longitude, latitude in corners:
            ring.AddPoint(latitude, longitude)
        return abs(float(ring.Compute()[2]))

    top, low = y + side, y + side / 8
    whole = measured((x, y), (x + side, y), (x + side, top), (x, top))
    edge = Geodesic.WGS84.InverseLine(y, x, y, x + side)
    west, east = (edge.Position(edge.s13 * share) for share in (0.25, 0.75))
    on_edge = [(one["lon2"], one["lat2"]) for one in (west, east)]
    pond = measured(*on_edge, (x + 3 * side / 4, low), (x + side / 4, low))
    field = out.said["field"]
    assert field["boundary_area_m2"] == pytest.approx(whole, rel=2e-7)
    # 14 km long and 11 km off the middle, a straight line of the frame runs 6 mm beside the shortest one.
    assert field["keep_out_area_m2"] == pytest.approx(pond, rel=1e-6 if side < 0.2 else 3e-6)
    for zone in "01":
        assert out.hectares()[zone] * 1e4 == pytest.approx((whole - pond) / 2, rel=1e-6)
    total = sum(out.hectares().values()) * 1e4 + field["keep_out_area_m2"]
    assert total == pytest.approx(field["boundary_area_m2"], rel=1e-6)


@pytest.mark.parametrize(
    ("side_m", "off_m", "vertices"),
    [
        pytest.param(110.0, 0.009, 6, id="a long edge, a vertex 9 mm off it"),
        pytest.param(110.0, 0.011, 5, id="11 mm off: not on it"),
        pytest.param(90.0, 0.009, 5, id="a short edge"),
    ],
)
@pytest.mark.parametrize(
    ("crs", "metres", "x", "y"),
    [("EPSG:32617", 1.0, 500_000.0, 4e6), ("EPSG:2264", 1200 / 3937, 2e6, 6e5)],
    ids=["metres", "US survey feet"],
)
def test_edges_are_long_in_metres(
    crs: str, metres: float, x: float, y: float, side_m: float, off_m: float, vertices: int
) -> None:
    """From 100 m on an edge gets the vertices within 1 cm of it that neighbours have, in whichever unit a grid is.

    Source: 1200/3937 m is the survey foot.
    """
    side, off = side_m / metres, off_m / metres
    field = np.array([shapely.box(x, y, x + side, y + side)], dtype=object)
    # One corner is off the middle of the southern edge; the others are far from all edges.
    middle = x + side / 2
    other = shapely.Polygon([(middle, y - off), (middle - side, y - side), (middle + side, y - side)])
    beside = Layer(source="z", crs=crs, shapes=np.array([other], dtype=object), columns={}, records=np.array([1]))
    place = move_points(np.array([[x, y]]), crs, "EPSG:4326")[0]
    (found,) = mend(field, crs, frame_at(*place.tolist()), beside=[beside]).shapes
    assert shapely.get_num_coordinates(found) == vertices


def test_a_notch_that_all_but_cuts_a_shape_in_two_leaves_it_sound() -> None:
    """Its tip is 5 mm off a long edge, and so a vertex of that edge: two parts that touch there, and no ground lost."""
    x, y = 500_000.0, 4e6
    field = shapely.box(x, y, x + 300, y + 200)
    notch = shapely.Polygon([(x + 140, y + 200), (x + 150, y + 0.005), (x + 160, y + 200)])
    shape = shapely.difference(field, notch)
    assert shape.is_valid
    place = move_points(np.array([[x, y]]), "EPSG:32617", "EPSG:4326")[0]
    frame = frame_at(*place.tolist())
    (found,) = mend(np.array([shape], dtype=object), "EPSG:32617", frame, beside=()).shapes
    assert found.is_valid
    assert len(found.geoms) == 2
    # On the central meridian UTM shrinks lengths by 0.9996.
    assert found.area == pytest.approx((300 * 200 - 10 * 200) / 0.9996**2, rel=1e-4)


@pytest.mark.parametrize(
    "beside_m",
    [
        pytest.param(0.0, id="on the edge"),
        pytest.param(0.009, id="9 mm inside"),
        pytest.param(-0.009, id="9 mm outside"),
    ],
)
@pytest.mark.parametrize("side", [0.0018, 0.01, 0.03])
def test_the_boundarys_area_is_its_own(side: float, beside_m: float, tmp_path: Path, capsys: Capture) -> None:
    """Zones with a vertex every 10 m along a boundary of three corners do not move it, and take all of its ground.

    The area is geographiclib's of the three corners: 200 m, 1 km or 3 km along a parallel.
    """
    corners = [(10.0, 42.0), (10.0 + side, 42.0), (10.0, 42.0 + side)]
    whole = Geodesic.WGS84.Polygon()
    for longitude, latitude in corners:
        whole.AddPoint(latitude, longitude)
    area_m2 = abs(float(whole.Compute()[2]))
    field = shapely.Polygon(corners)
    zones = shapely.segmentize(field.buffer(-beside_m / 111_000, join_style="mitre"), 10 / 111_000)
    write_geojson(tmp_path / "boundary.geojson", [feature(shapely.geometry.mapping(field))])
    write_geojson(tmp_path / "zones.geojson", [feature(shapely.geometry.mapping(zones), zone="A", rate=50)])
    out = build_plan(tmp_path, plan_text(zones="zones.geojson", boundary="boundary.geojson"), capsys)
    assert out.code == 0, out.text
    assert out.said["field"]["boundary_area_m2"] == pytest.approx(area_m2, rel=1e-9)
    assert out.hectares() == {"A": pytest.approx(area_m2 / 1e4, rel=1e-6)}
    assert out.findings == []


@pytest.mark.parametrize(
    "boxes",
    [
        pytest.param([(10.0, 50.0, 10.01, 50.01), (15.0, 50.0, 15.01, 50.01)], id="a stray part"),
        pytest.param([(179.995, -17.0, 180.0, -16.99), (-180.0, -17.0, -179.995, -16.99)], id="across 180 degrees"),
    ],
)
def test_ground_too_far_apart_is_refused(
    boxes: list[tuple[float, float, float, float]], tmp_path: Path, capsys: Capture
) -> None:
    """Set-backs would be wrong so far from the middle: the error says how far, and what to do."""
    write_boxes(tmp_path / "zones.geojson", boxes)
    out = build_plan(tmp_path, plan_text(zones="zones.geojson", boundary="zones.geojson"), capsys)
    assert out.code == 2
    assert "spans" in out.text
    assert "a plan for each part" in out.text
