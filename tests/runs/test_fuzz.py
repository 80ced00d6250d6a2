"""Plans and files that were damaged at random: an exit code, words, and all or nothing; never a riddle."""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import tempfile
from collections.abc import Callable
from math import cos, pi, sin
from pathlib import Path
from typing import Any

import pyproj
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support_cases import (
    RATES,
    feature,
    moved,
    polygon,
    write_geojson,
    write_geopackage,
    write_plain,
    write_shapefile,
    zone_ring,
)
from support_fields import SECOND, bench, digests, keep_out, write_box, write_points
from support_plans import plan_text

from vrx.cli.main import main

# The same damage on every computer; FUZZ_EXAMPLES=3000 tries more, and other damage.
EXAMPLES = int(os.environ.get("FUZZ_EXAMPLES", "0"))
FUZZ = settings(
    max_examples=EXAMPLES or 60,
    derandomize=not EXAMPLES,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)

VALUES = (
    '""', '"0"', '"-1 kg/ha"', '"nan kg/ha"', '"1e400 kg/ha"', '"5"', '"5 kg"', '"5 lb/ac"', '"kg/ha"', '"1e-300 m"',
    "0", "-1", "1e308", "nan", "inf", "99999999999999999999", "true", "[]", "{}", '["", ""]', "2027-02-30",
    '"EPSG:4326"', '"EPSG:0"', '"+proj=laea"', '"../.."', '"plan.toml"', '"\\u0000"', '"zones.geojson"', '"x" * 3',
    '"900000000 kg/ha"', '"0 kg/ha"', '"100000 km"', '"Ä"', "''", "[[1, 2]]", '{ A = "1 kg/ha" }', '"gap.geojson"',
)  # fmt: skip


@pytest.fixture(scope="module")
def field(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with plans by GeoJSON, shapefile, GeoPackage and CSV, which all build."""
    folder = tmp_path_factory.mktemp("fuzz")
    write_box(folder / "hut.geojson", 0.0, 100.0, 30.0, 130.0)
    write_points(folder / "well.geojson", [(-100.0, 60.0)])
    write_plain(folder)
    rows = [
        (shapely.Polygon(moved(zone_ring(zone), "EPSG:3857")).wkb, zone, float(rate)) for zone, rate in RATES.items()
    ]
    write_geopackage(folder / "web.gpkg", {"zones": rows}, srs=3857)
    (folder / "rates.csv").write_text("zone,rate\nA,85\nB,115\nC,140\n")
    keep_outs = keep_out("hut.geojson") + keep_out("well.geojson", set_back='"15 m"', products='["Second"]')
    machine = '[machine]\nname = "m"\nwidth = "18 m"\n[receiver]\nformats = ["shapefile", "geojson"]\n'
    top = 'date = 2027-05-04\noverlaps = "lowest"\ngrid_crs = "EPSG:32614"\n'
    plans = {
        "geojson": bench(folder, top=top, rest=keep_outs + SECOND + machine),
        "shapefile": plan_text(
            zones="bench.shp", boundary="boundary.geojson", name="ZONE", column="RATE", rest=keep_out("hut.geojson")
        ),
        "geopackage": plan_text(zones="web.gpkg", boundary="boundary.geojson", rest=machine),
        "csv": plan_text(
            zones="zones.geojson",
            boundary="boundary.geojson",
            rates='[[rate]]\nproduct = "Granular"\nby = "table"\ntable = "rates.csv"\nunit = "kg/ha"\n',
        ),
    }
    for name, text in plans.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return folder


PLANS = ("geojson.toml", "shapefile.toml", "geopackage.toml", "csv.toml")
INPUTS = {
    "geojson.toml": ("zones.geojson", "boundary.geojson", "hut.geojson", "well.geojson"),
    "shapefile.toml": ("bench.shp", "bench.shx", "bench.dbf", "bench.prj"),
    "geopackage.toml": ("web.gpkg",),
    "csv.toml": ("rates.csv", "zones.geojson"),
}


@st.composite
def damaged_bytes(draw: st.DrawFn, data: bytes) -> bytes:
    """Cut, drop, double, swap or overwrite a piece of a file."""
    size = len(data)
    at = draw(st.integers(0, size))
    length = draw(st.sampled_from([1, 2, 4, 8, 40, 400]) | st.integers(1, max(1, size)))
    piece = data[at : at + length]
    how = draw(st.sampled_from(["cut", "drop", "double", "swap", "overwrite", "garbage", "flip", "empty"]))
    if how == "cut":
        return data[:at]
    if how == "drop":
        return data[:at] + data[at + length :]
    if how == "double":
        return data[:at] + piece + data[at:]
    if how == "swap":
        other = draw(st.integers(0, size))
        return data[:at] + data[other : other + length] + data[at + length :]
    if how == "overwrite":
        return (
            data[:at]
            + draw(st.sampled_from([b"\0", b"\xff", b"9", b"-", b"e", b'"', b"["])) * len(piece)
            + data[at + length :]
        )
    if how == "garbage":
        return data[:at] + draw(st.binary(max_size=30)) + data[at + length :]
    if how == "flip":
        return data[:at] + bytes(one ^ 1 << draw(st.integers(0, 7)) for one in piece[:1]) + data[at + 1 :]
    return b""


@st.composite
def damaged_plan(draw: st.DrawFn, text: str) -> str:
    """Drop, double, swap or move lines of a plan, or give its keys other values."""
    lines = text.splitlines()
    for _ in range(draw(st.integers(1, 3))):
        at, other = draw(st.integers(0, len(lines) - 1)), draw(st.integers(0, len(lines) - 1))
        how = draw(st.sampled_from(["value", "value", "value", "drop", "double", "swap", "key", "move"]))
        if how == "drop" and len(lines) > 1:
            del lines[at]
        elif how == "double":
            lines.insert(other, lines[at])
        elif how == "swap":
            lines[at], lines[other] = lines[other], lines[at]
        elif how == "move":
            lines.insert(min(other, len(lines) - 1), lines.pop(at))
        elif how == "key":
            lines[at] = lines[at].replace("a", "e", 1)
        elif " = " in lines[at]:
            key = lines[at].partition(" = ")[0]
            lines[at] = f"{key} = {draw(st.sampled_from(VALUES))}"
    return "\n".join(lines) + "\n"


def maps_add_up(said: dict[str, Any]) -> None:
    """The written maps cover the boundary once, and rate times measured area is the total that the ledger gives.

    Areas by pyproj, rings oriented.
    """
    geod = pyproj.Geod(ellps="WGS84")
    maps = [one["path"] for one in said["files"] if one["format"] == "geojson"]
    products = said["products"]
    if len(maps) != len(products) or any(one["unit"] != "kg/ha" for one in products):
        return
    for path, product in zip(maps, products, strict=True):
        features = json.loads(Path(path).read_text(encoding="utf-8"))["features"]
        shapes = [shapely.geometry.shape(one["geometry"]) for one in features]
        measured = [geod.geometry_area_perimeter(shapely.orient_polygons(one)) for one in shapes]
        areas = [abs(area) for area, _ in measured]
        # The tolerance of reading back: 2e-6 of an area, or a millimetre along its perimeter.
        allowed = sum(max(2e-6 * abs(area), 1e-3 * perimeter) for area, perimeter in measured)
        assert sum(areas) == pytest.approx(said["field"]["boundary_area_m2"], rel=0, abs=allowed)
        assert shapely.coverage_is_valid(shapes)
        column = next(iter(features[0]["properties"]))
        given = sum(float(one["properties"][column]) * area for one, area in zip(features, areas, strict=True)) / 1e4
        assert given == pytest.approx(product["total_given"], rel=1e-5, abs=0.01)


def builds_or_says_why(field: Path, plan: str, damage: Callable[[Path], object]) -> dict[str, Any]:
    with tempfile.TemporaryDirectory() as name:
        folder = shutil.copytree(field, Path(name) / "field")
        damage(folder)
        before = digests(folder)
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = main(["build", str(folder / plan), "--json"])
        said = err.getvalue()
        assert code in (0, 1, 2)
        assert "should not have happened" not in said, said
        assert "Traceback" not in said
        result: dict[str, Any] = json.loads(out.getvalue())
        assert out.getvalue().count("\n") == 1
        bundle = folder / f"{Path(plan).stem}-bundle"
        if code == 0:
            written = {Path(one["path"]).relative_to(bundle).as_posix(): one["sha256"] for one in result["files"]}
            found = digests(bundle, without="")
            assert found.pop("manifest.json")
            assert found == written
            treated = [product["geodesic_area_m2"] for product in result["products"]]
            zones = [sum(zone["geodesic_area_m2"] for zone in product["zones"]) for product in result["products"]]
            assert zones == pytest.approx(treated, rel=1e-6, abs=1e-3)
            maps_add_up(result)
        else:
            assert not bundle.exists()
            stopped = bundle.with_name(f"{bundle.name}-stopped")
            if code == 1:
                assert any(one["severity"] == "stop" for one in result["findings"])
                assert (stopped / "paper").is_dir()
                assert not (stopped / "machine").exists()
                shutil.rmtree(stopped)
            else:
                assert not stopped.exists()
                assert result["errors"]
                assert all(one["problem"] for one in result["errors"])
                assert said.count("\n") == len(result["errors"])
        assert not list(folder.glob(".*"))
        assert digests(folder) == before
        return result


@pytest.mark.parametrize("plan", PLANS)
def test_the_undamaged_plans_build(field: Path, plan: str) -> None:
    """What is damaged below is sound before."""
    with tempfile.TemporaryDirectory() as name:
        folder = shutil.copytree(field, Path(name) / "field")
        assert main(["build", str(folder / plan)]) == 0


@pytest.mark.parametrize("plan", PLANS)
@FUZZ
@given(data=st.data())
def test_a_damaged_plan(field: Path, plan: str, data: st.DataObject) -> None:
    """Lines dropped, doubled, moved, and values that make no sense."""
    text = data.draw(damaged_plan((field / plan).read_text(encoding="utf-8")))
    builds_or_says_why(field, plan, lambda folder: (folder / plan).write_text(text, encoding="utf-8"))


@pytest.mark.parametrize("plan", PLANS)
@FUZZ
@given(data=st.data())
def test_damaged_files(field: Path, plan: str, data: st.DataObject) -> None:
    """Bytes of the plan or of one of its files cut off, dropped, doubled, swapped, overwritten."""
    name = data.draw(st.sampled_from((*INPUTS[plan], plan)))
    content = data.draw(damaged_bytes((field / name).read_bytes()))
    builds_or_says_why(field, plan, lambda folder: (folder / name).write_bytes(content))


@FUZZ
@given(
    rings=st.lists(
        st.lists(
            st.tuples(st.integers(-260, 260), st.integers(-50, 300)).map(lambda xy: (float(xy[0]), float(xy[1]))),
            min_size=3,
            max_size=7,
        ),
        min_size=1,
        max_size=5,
    )
)
def test_zones_drawn_at_random(field: Path, rings: list[list[tuple[float, float]]]) -> None:
    """Any polygons as zones, crossing themselves and each other: no acre is lost, or the build says why not."""

    def damage(folder: Path) -> None:
        features = [
            {
                "type": "Feature",
                "properties": {"zone": str(at), "rate": 50 + 5 * at},
                "geometry": {"type": "Polygon", "coordinates": [moved([*ring, ring[0]], "EPSG:4326")]},
            }
            for at, ring in enumerate(rings)
        ]
        (folder / "zones.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))

    builds_or_says_why(field, "geojson.toml", damage)


metres = st.floats(-200, 200, allow_nan=False).map(lambda one: round(one, 3))


@FUZZ
@given(
    crs=st.sampled_from(["EPSG:32614", "EPSG:32615", "EPSG:3857", "EPSG:26852", "EPSG:4326"]),
    jitter=st.lists(st.tuples(st.floats(-25, 25), st.floats(-25, 25)), min_size=49, max_size=49),
    outline=st.lists(st.floats(60, 190), min_size=3, max_size=9),
    wells=st.lists(st.tuples(metres, metres), max_size=3),
    set_back=st.sampled_from(["0.3 m", "15 m", "100 ft"]),
)
def test_fields_drawn_at_random(
    field: Path,
    crs: str,
    jitter: list[tuple[float, float]],
    outline: list[float],
    wells: list[tuple[float, float]],
    set_back: str,
) -> None:
    """A mesh of 36 zones in any CRS over a field of any outline, with wells: it builds, with no gap and no overlap."""
    corners = [(-270.0 + 90 * (at % 7) + dx, -270.0 + 90 * (at // 7) + dy) for at, (dx, dy) in enumerate(jitter)]
    angles = [2 * pi * at / len(outline) for at in range(len(outline))]
    ring = [(reach * cos(angle), reach * sin(angle)) for reach, angle in zip(outline, angles, strict=True)]

    def draw(folder: Path) -> None:
        cells = [(row * 7 + column) for row in range(6) for column in range(6)]
        shapes = [[moved([corners[at + step] for step in (0, 7, 8, 1, 0)], crs)] for at in cells]
        rows = [[f"Z{at}", f"{20 + 5 * (at % 9)}.00"] for at in cells]
        write_shapefile(folder, "mesh", shapes, rows, crs=crs)
        write_geojson(folder / "outline.geojson", [feature(polygon([*ring, ring[0]]))])
        rest = ""
        if wells:
            write_points(folder / "wells.geojson", wells)
            rest = keep_out("wells.geojson", set_back=f'"{set_back}"')
        rest += '[machine]\nname = "m"\nwidth = "12 m"\n'
        text = plan_text(zones="mesh.shp", boundary="outline.geojson", name="ZONE", column="RATE", rest=rest)
        (folder / "mesh.toml").write_text(text, encoding="utf-8")

    said = builds_or_says_why(field, "mesh.toml", draw)
    assert said.get("bundle"), said
    assert not {"gap", "overlap", "invalid-shape"} & {one["id"] for one in said["findings"]}
