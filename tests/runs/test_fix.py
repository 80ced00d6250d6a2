"""Mended maps: files and shapes as they should be, every rate as it was; or no file at all.

Areas are known by construction: strips of the invented field, which is 420 m by 250 m (see support_cases).
"""

from __future__ import annotations

import errno
import json
import os
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import support_cases as cases
from support_cases import UTM, area_ha, feature, moved, polygon, rectangle, write_boundary, write_geojson
from support_checks import SPRAYER, library, plan_for, strips
from support_faults import Fault, disturbed
from support_fields import SPREADER, digests, keep_out, write_box

from vrx.cli.main import main
from vrx.errors import OutputError, VrxError
from vrx.inputs.read import read_layer
from vrx.model.fixed import Fixed
from vrx.model.layer import Layer
from vrx.model.plan import Plan
from vrx.runs.fix import check_and_fix
from vrx.runs.fix_shapes import FILL_GAPS_M2

TESTS = Path(__file__).resolve().parents[1]


def fixed(*maps: Path, out: Path | None = None, **options: Any) -> Fixed:
    options = {"unit": "kg/ha", "column": "rate"} | options
    return check_and_fix(maps, out or maps[0].parent / "mended.geojson", **options)[1]


def hectares(layer: Layer) -> dict[str, float]:
    """True ground by zone, each record by itself (Karney, through pyproj)."""
    column = next(layer.columns[name] for name in ("zone", "ZONE") if name in layer.columns)
    found: dict[str, float] = {}
    for name, shape in zip(column.cells, layer.shapes, strict=True):
        found[str(name)] = found.get(str(name), 0.0) + area_ha(shape, layer.crs)
    return found


def rates(layer: Layer, column: str = "rate") -> dict[str, Any]:
    return dict(zip(layer.columns["zone"].cells, layer.columns[column].cells, strict=True))


def squares(folder: Path, rings: dict[str, list[Any]], rate: dict[str, float], **more: Any) -> Path:
    """Write zones of rings in local metres, with as many decimals of a degree as maps are written with."""
    features = [feature(polygon(*each), zone=name, rate=rate[name], **more) for name, each in rings.items()]
    for one in features:
        one["geometry"]["coordinates"] = [
            [[round(x, 8), round(y, 8)] for x, y in ring] for ring in one["geometry"]["coordinates"]
        ]
    return write_geojson(folder / "map.geojson", features)


def whole_ha(path: Path) -> float:
    """True ground that all shapes of a map cover together (united by plain shapely)."""
    layer = read_layer(path)
    return area_ha(shapely.union_all(layer.shapes), layer.crs)


def fits(layer: Layer) -> bool:
    """Shapes meet vertex for vertex (plain shapely, in degrees)."""
    return bool(shapely.coverage_is_valid(layer.shapes))


# ---- shapes


def test_a_sound_map_is_written_as_it_is(tmp_path: Path) -> None:
    """Nothing is changed where nothing is wrong: rates, names and ground."""
    path = strips(tmp_path, [85, 115, 140])
    found = fixed(path)
    layer = read_layer(found.path)
    assert (found.changes, found.left, found.check.verdict, found.check.findings) == ((), (), "clear", ())
    assert rates(layer) == {"A": 85, "B": 115, "C": 140}
    # Rounded to the eighth decimal of a degree, half a millimetre: of 780 m of outline 0.4 m2 at the very most.
    assert hectares(layer) == pytest.approx(dict.fromkeys("ABC", 3.5), rel=1e-5)
    assert found.check.on.source.name == "mended.geojson"


def test_a_bow_tie_keeps_both_lobes(tmp_path: Path) -> None:
    """A ring that crosses itself comes as two sound polygons at its rate, by the even-odd rule."""
    path = cases.write_bowtie(tmp_path)
    before = read_layer(path)
    assert not shapely.is_valid(before.shapes).all()
    found = fixed(path, column=next(iter(set(before.columns) - {"zone", "ZONE"})))
    after = read_layer(found.path)
    assert shapely.is_valid(after.shapes).all()
    assert set(shapely.get_type_id(after.shapes)) == {3}
    assert "mended, its ground" in found.changes[0]
    whole = sum(area_ha(shapely.make_valid(shape), before.crs) for shape in before.shapes)
    assert sum(hectares(after).values()) == pytest.approx(whole, rel=1e-6)


def test_a_hole_wound_wrong_stays_a_hole(tmp_path: Path) -> None:
    """A hole wound like its outline is written the other way, outlines clockwise as a shapefile has them."""
    path = cases.write_hole_wound_wrong(tmp_path)
    found = fixed(path, out=tmp_path / "mended.shp", column="RATE")
    assert any("wound the usual way" in one for one in found.changes)
    import shapefile  # a reader that shares no code with ours

    with shapefile.Reader(str(found.path)) as file:
        for shape in file.shapes():
            ends = [*shape.parts, len(shape.points)][1:]
            rings = [shapely.LinearRing(shape.points[a:b]) for a, b in zip(shape.parts, ends, strict=True)]
            assert not shapely.is_ccw(rings[0])
            assert all(shapely.is_ccw(ring) for ring in rings[1:])
    assert not any(one.id == "hole-winding" for one in read_layer(found.path).findings)
    holed = [shape for shape in read_layer(found.path).shapes if len(shape.interiors)]
    assert len(holed) == 1
    assert area_ha(shapely.Polygon(holed[0].interiors[0]), "EPSG:4326") == pytest.approx(cases.HOLE_HA, rel=1e-4)


def test_a_sliver_is_closed_and_no_ground_is_lost(tmp_path: Path) -> None:
    """0.3 m of bare ground between two strips goes to one of them; all ground of the field has a rate then."""
    boundary = write_boundary(tmp_path)
    rings = {"A": [rectangle(-210, 0, -30, 250)], "B": [rectangle(-29.7, 0, 210, 250)]}
    found = fixed(squares(tmp_path, rings, {"A": 85, "B": 115}), boundary=boundary)
    layer = read_layer(found.path)
    # 0.3 m by 250 m
    assert re.search(r"74\.9\d m2|75\.0\d m2", found.changes[0])
    host = found.changes[0].rpartition("goes to ")[2][0]
    # Half a millimetre along an outline of 1.3 km moves 0.7 m2 of 105,000 at most.
    assert sum(hectares(layer).values()) == pytest.approx(10.5, rel=1e-6)
    assert hectares(layer)[host] == pytest.approx({"A": 4.5, "B": 5.9925}[host] + 0.0075, rel=1e-5)
    assert fits(layer)
    assert rates(layer) == {"A": 85, "B": 115}


def test_ground_along_the_edge_is_no_sliver(tmp_path: Path) -> None:
    """A map that falls 0.3 m short of the boundary is not stretched; that ground is told as left."""
    boundary = write_boundary(tmp_path)
    rings = {"A": [rectangle(-209.7, 0, -30, 250)], "B": [rectangle(-30, 0, 210, 250)]}
    found = fixed(squares(tmp_path, rings, {"A": 85, "B": 115}), boundary=boundary)
    assert found.changes == ()
    assert re.match(r"7[45]\.\d\d m2", found.left[0])
    assert hectares(read_layer(found.path))["A"] == pytest.approx(4.4925, rel=1e-5)


def test_larger_gaps_are_left(tmp_path: Path) -> None:
    """A hole of 0.2 ha is no sliver: nobody may choose its rate."""
    hole = rectangle(-150, 100, -100, 140)
    rings = {"A": [rectangle(-210, 0, 0, 250), hole], "B": [rectangle(0, 0, 210, 250)]}
    found = fixed(squares(tmp_path, rings, {"A": 85, "B": 115}))
    assert found.changes == ()
    assert "0.2000 ha" in found.left[0]
    assert hectares(read_layer(found.path))["A"] == pytest.approx(5.25 - 0.2, rel=1e-5)


def test_fill_gaps_is_the_plan_s(tmp_path: Path) -> None:
    """A plan says how large a gap may be; without one the plan's default holds."""
    hole = rectangle(-150, 100, -140, 115)  # 150 m2
    rings = {"A": [rectangle(-210, 0, 0, 250), hole], "B": [rectangle(0, 0, 210, 250)]}
    path = squares(tmp_path, rings, {"A": 85, "B": 115})
    assert Plan.model_fields["fill_gaps"].default == FILL_GAPS_M2
    assert "within A" in fixed(path).changes[0]
    plan = plan_for(tmp_path)
    plan.write_text("fill_gaps = '100 m2'\n" + plan.read_text())
    found = fixed(path, plan=plan, out=tmp_path / "other.geojson")
    assert found.changes == ()


def test_an_overlap_of_one_rate_is_divided(tmp_path: Path) -> None:
    """Ground that two shapes of one rate cover goes to one of them: each square metre counts once."""
    rings = {"A": [rectangle(-210, 0, 0, 250)], "B": [rectangle(-20, 0, 210, 250)]}
    path = squares(tmp_path, rings, {"A": 100, "B": 100})
    found = fixed(path)
    layer = read_layer(found.path)
    assert "100 kg/ha each on 0.5000 ha" in found.changes[0]
    assert sum(hectares(layer).values()) == pytest.approx(whole_ha(path), rel=1e-6)
    assert whole_ha(path) == pytest.approx(10.5, rel=1e-5)
    assert fits(layer)
    assert not found.check.on.the_shapes.overlaps


def test_the_longest_border_decides(tmp_path: Path) -> None:
    """A strip of A that reaches 10 m into B over half of its height is closed in by B on three sides."""
    into = [(-210.0, 0.0), (0.0, 0.0), (0.0, 50.0), (20.0, 50.0), (20.0, 150.0), (0.0, 150.0), (0.0, 250.0),
            (-210.0, 250.0), (-210.0, 0.0)]  # fmt: skip
    rings = {"A": [into], "B": [rectangle(0, 0, 210, 250)]}
    found = fixed(squares(tmp_path, rings, {"A": 100, "B": 100}))
    # The overlap of 20 m by 100 m borders on A along 100 m, and on B along 140 m.
    assert "goes to B" in found.changes[0]
    assert hectares(read_layer(found.path)) == pytest.approx({"A": 5.25, "B": 5.25}, rel=1e-5)


def test_a_shape_within_another_of_its_rate_is_left_out(tmp_path: Path) -> None:
    """A copy of a record has no ground of its own once the ground is divided."""
    rings = {"A": [rectangle(-210, 0, 0, 250)], "B": [rectangle(-210, 0, 0, 250)], "C": [rectangle(0, 0, 210, 250)]}
    found = fixed(squares(tmp_path, rings, {"A": 100, "B": 100, "C": 90}))
    assert hectares(read_layer(found.path)) == pytest.approx({"A": 5.25, "C": 5.25}, rel=1e-5)
    assert any("B (record 2)" in one and "Left out" in one for one in found.changes)


def test_an_overlap_of_two_rates_is_left_and_said(tmp_path: Path) -> None:
    """Nobody but the map's maker may choose: both shapes stay, and the mended map is a stop still."""
    rings = {"A": [rectangle(-210, 0, 0, 250)], "B": [rectangle(-20, 0, 210, 250)]}
    path = squares(tmp_path, rings, {"A": 100, "B": 120})
    found = fixed(path)
    layer = read_layer(found.path)
    assert found.changes == ()
    assert "0.5000 ha" in found.left[0]
    assert hectares(layer) == pytest.approx({"A": 5.25, "B": 5.75}, rel=1e-5)
    assert found.check.verdict == "stop"
    assert main(["check", str(path), "--fix", str(tmp_path / "x.geojson"), "--unit", "kg/ha"]) == 1


def test_equal_and_different_rates_on_one_piece(tmp_path: Path) -> None:
    """Where A and B of one rate and C of another meet, one of A and B goes, and C stays on it."""
    rings = {
        "A": [rectangle(-210, 0, 0, 250)],
        "B": [rectangle(-20, 0, 210, 250)],
        "C": [rectangle(-10, 100, 50, 150)],
    }
    path = squares(tmp_path, rings, {"A": 100, "B": 100, "C": 150})
    found = fixed(path)
    layer = read_layer(found.path)
    ground = hectares(layer)
    assert ground["A"] + ground["B"] == pytest.approx(whole_ha(path), rel=1e-6)
    assert ground["C"] == pytest.approx(0.3, rel=1e-4)
    assert len(found.left) == 1


def test_records_of_several_parts_come_one_a_part(tmp_path: Path) -> None:
    """A multipolygon becomes records with its cells each, without heights; records without ground are left out."""
    path = cases.write_heights_and_parts(tmp_path)
    before = read_layer(path)
    assert (shapely.get_num_geometries(before.shapes) > 1).any()
    found = fixed(path)
    after = read_layer(found.path)
    assert set(shapely.get_type_id(after.shapes)) == {3}
    assert not shapely.has_z(after.shapes).any()
    assert any("several parts" in one for one in found.changes)
    assert any("Heights" in one for one in found.changes)
    assert hectares(after) == pytest.approx(hectares(before), rel=1e-5)
    empty = cases.write_null_and_empty(tmp_path / "empty")
    found = fixed(empty, column="RATE")
    assert any("hold no ground" in one for one in found.changes)
    assert len(read_layer(found.path).shapes) == len(read_layer(empty).shapes) - 2


def test_what_lies_beyond_and_in_keep_outs_stays(tmp_path: Path) -> None:
    """The map keeps its ground there, and it is said."""
    plan = plan_for(tmp_path)
    write_box(tmp_path / "hut.geojson", 0.0, 100.0, 30.0, 130.0)
    plan.write_text(plan.read_text() + keep_out("hut.geojson"))
    rings = {"A": [rectangle(-210, 0, 0, 250)], "B": [rectangle(0, 0, 230, 250)]}
    found = fixed(squares(tmp_path, rings, {"A": 85, "B": 115}), plan=plan)
    assert [one.partition(" of")[0] for one in found.left] == ["0.5000 ha (1.236 ac)", "0.0900 ha (0.222 ac)"]
    assert hectares(read_layer(found.path)) == pytest.approx({"A": 5.25, "B": 5.75}, rel=1e-5)


def test_fixing_twice_changes_nothing_more(tmp_path: Path) -> None:
    """Overlap, sliver, parts, another CRS and names: the second time the file comes out byte for byte."""
    boundary = write_boundary(tmp_path)
    shapes = [
        [
            moved(rectangle(-210, 0, -60, 250, clockwise=True), UTM),
            moved(rectangle(150, 0, 210, 250, clockwise=True), UTM),
        ],
        [moved(rectangle(-59.7, 0, 60, 250, clockwise=True), UTM)],
        [moved(rectangle(40, 0, 150, 250, clockwise=True), UTM)],
    ]
    fields = (("ZONE", "C", 9, 0), ("MY RATE", "N", 12, 2))
    path = cases.write_shapefile(tmp_path, "bench", shapes, [["A", "85.25"], ["B", "100"], ["C", "100"]], fields=fields)
    first = fixed(path, out=tmp_path / "one.shp", boundary=boundary, column="MY RATE")
    assert len(first.changes) == 5
    assert sum(hectares(read_layer(first.path)).values()) == pytest.approx(10.5, rel=1e-6)
    column = first.check.on.the_rates.column
    second = fixed(first.path, out=tmp_path / "two.shp", boundary=boundary, column=column)
    assert (second.changes, second.left) == ((), ())
    for one, two in zip(first.files, second.files, strict=True):
        assert one.read_bytes() == two.read_bytes()


# ---- the file


def test_no_crs_is_written_once_it_is_said(tmp_path: Path) -> None:
    """A shapefile without .prj gets one, in longitude and latitude; without --crs nothing is mended."""
    path = cases.write_no_prj(tmp_path)
    with pytest.raises(VrxError, match="CRS"):
        fixed(path, out=tmp_path / "mended.shp", column="RATE")
    assert not (tmp_path / "mended.shp").exists()
    found = fixed(path, out=tmp_path / "mended.shp", column="RATE", crs=UTM)
    assert found.check.verdict == "clear"
    assert "EPSG:4326" in found.changes[0]
    layer = read_layer(tmp_path / "mended.shp")
    assert hectares(layer) == pytest.approx(cases.AREA_HA, rel=1e-5)


def test_the_receiver_s_crs_is_written(tmp_path: Path) -> None:
    """A plan's receiver says in which CRS its shapefiles are, and how long names are; GeoJSON is always WGS 84."""
    plan = plan_for(tmp_path, rest='\n[receiver]\ncrs = "EPSG:32614"\nname_length = 20\n')
    path = strips(tmp_path, [85, 115, 140], name="a-rather-long-name-of-a-map")
    found = fixed(path, out=tmp_path / "utm.shp", plan=plan)
    layer = read_layer(found.path)
    assert shapely.total_bounds(layer.shapes)[0] > 180
    assert hectares(layer) == pytest.approx(dict.fromkeys("ABC", 3.5), rel=1e-5)
    named = fixed(path, out=tmp_path, plan=plan)
    assert len(named.path.stem) <= 20
    assert "-mended_" in named.path.stem
    assert shapely.total_bounds(read_layer(named.path).shapes)[0] > -180


@pytest.mark.parametrize("ending", [".shp", ".geojson", ".gpkg"])
def test_numbers_and_texts_come_through(ending: str, tmp_path: Path) -> None:
    """0.1, 12.25 and 1e-3 digit by digit, names that load, texts with accents, empty cells; in every format."""
    path = strips(
        tmp_path,
        [0.1, 12.25, 0.001],
        column="Rate (kg/ha) wanted",
        more={"Näme": ["Süd", "x, y", None], "om": [1.5, None, 12], "ok": [True, False, None]},
    )
    found = fixed(path, out=tmp_path / f"mended{ending}", column="Rate (kg/ha) wanted")
    layer = read_layer(found.path)
    column = found.check.on.the_rates.column
    assert [float(one) for one in layer.columns[column].cells] == [0.1, 12.25, 0.001]
    if ending == ".shp":
        assert column.isascii()
        assert len(column) <= 10
        assert list(layer.columns[column].cells) == ["0.100", "12.250", "0.001"]
        assert "Column names that load" in found.changes[-1]
    others = [one.cells for name, one in layer.columns.items() if name not in {column, "zone"}]
    assert others[0] == ("Süd", "x, y", None)
    assert [None if cell is None else float(cell) for cell in others[1]] == [1.5, None, 12]
    assert others[2] == ("true", "false", None)


def test_what_a_double_makes_of_a_decimal_is_written_short(tmp_path: Path) -> None:
    """112.340000000000003, as programs write 112.34, stays that number; a 16th digit is said to be cut."""
    path = cases.write_shapefile(
        tmp_path,
        "noisy",
        cases._zones(UTM),
        [["A", "112.340000000000003"], ["B", "120.300000000000011"], ["C", "50"]],
        fields=(("ZONE", "C", 9, 0), ("RATE", "N", 24, 15)),
    )
    found = fixed(path, out=tmp_path / "mended.shp", column="RATE")
    cells = read_layer(found.path).columns["RATE"].cells
    assert [float(cell) for cell in cells] == [112.34, 120.3, 50]
    (said,) = (one for one in found.changes if "digits" in one)
    assert "120.30000000000001 as 120.3" in said
    assert "112.34" not in said


def test_stated_areas_go_where_they_no_longer_hold(tmp_path: Path) -> None:
    """A column of hectares stays with shapes that stay, and is left out where ground changed hands."""
    path = strips(tmp_path, [85, 115, 140], more={"area_ha": [3.5, 3.5, 3.5]})
    assert "area_ha" in read_layer(fixed(path).path).columns
    rings = {"A": [rectangle(-210, 0, 0, 250)], "B": [rectangle(-20, 0, 210, 250)]}
    other = squares(tmp_path, rings, {"A": 100, "B": 100}, area_ha=5.25)
    found = fixed(other, out=tmp_path / "other.geojson")
    assert "area_ha" not in read_layer(found.path).columns
    assert any("areas changed: area_ha" in one for one in found.changes)


def test_a_text_too_long_for_a_shapefile_is_left_out(tmp_path: Path) -> None:
    """A column that a format can't hold is left out whole, and said; nothing is cut."""
    path = strips(tmp_path, [85, 115, 140], more={"note": ["x" * 255, "y", "z"]})
    found = fixed(path, out=tmp_path / "mended.shp")
    assert "note" not in read_layer(found.path).columns
    assert "can't hold them: note" in found.changes[-1]
    assert "note" in read_layer(fixed(path).path).columns


def test_a_map_in_a_folder_gets_a_name_with_a_code(tmp_path: Path) -> None:
    """NAME-mended_code, the same for the same contents, and never one mended upon mended."""
    out = tmp_path / "out"
    out.mkdir()
    found = fixed(strips(tmp_path, [85, 115], name="Große Wiese (neu)"), out=out)
    assert found.path.name.startswith("grosse-wiese-neu-mended_")
    assert found.path.suffix == ".geojson"
    with pytest.raises(OutputError, match="never mended in place"):
        fixed(found.path, out=out)
    other = tmp_path / "other"
    other.mkdir()
    assert fixed(found.path, out=other).path.name == found.path.name
    zipped = cases.write_nested_zip(tmp_path / "zip")
    assert fixed(zipped, out=other, column="RATE").path.suffix == ".shp"


# ---- what is never written over


def refused(match: str, *words: str, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    assert main(["check", *words, "--json"]) == 2
    said = json.loads(capsys.readouterr().out)
    assert match in "\n".join(f"{one['problem']} {one['remedy']}" for one in said["errors"])


def test_never_in_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Not over the map, its parts, a link to them, the boundary or the plan's files; force changes nothing."""
    path = cases.write_plain(tmp_path)
    boundary = write_boundary(tmp_path)
    plan = plan_for(tmp_path)
    before = digests(tmp_path)
    link = tmp_path / "link.shp"
    link.symlink_to(path)
    hard = tmp_path / "hard.shp"
    hard.hardlink_to(path)
    for out in (path, link, hard, tmp_path / "sub" / ".." / "bench.shp", tmp_path / "bench.SHP", boundary):
        (tmp_path / "sub").mkdir(exist_ok=True)
        words = [str(path), "--boundary", str(boundary), "--fix", str(out), "--force"]
        refused("never mended in place", *words, capsys=capsys)
    refused("never mended in place", str(path), "--plan", str(plan), "--fix", str(boundary), "--force", capsys=capsys)
    link.unlink()
    hard.unlink()
    assert {name: digests(tmp_path)[name] for name in before} == before


def test_nothing_is_replaced_unasked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file of any of the names that would be written stops it; with --force it is replaced."""
    path = cases.write_plain(tmp_path)
    (tmp_path / "new.dbf").write_text("of someone else")
    out = tmp_path / "new.shp"
    refused("already", str(path), "--fix", str(out), capsys=capsys)
    assert (tmp_path / "new.dbf").read_text() == "of someone else"
    assert not out.exists()
    assert main(["check", str(path), "--unit", "kg/ha", "--fix", str(out), "--force"]) == 0
    assert len(read_layer(out).shapes) == 3
    assert not list(tmp_path.glob(".*"))


@pytest.mark.parametrize(
    ("out", "match"),
    [
        pytest.param("mended", ".shp, .geojson or .gpkg", id="no ending"),
        pytest.param("mended.kml", ".shp, .geojson or .gpkg", id="an ending that is not written"),
        pytest.param("no/mended.shp", "no such folder", id="no folder"),
        pytest.param("my map.shp", "plain letters", id="a space"),
        pytest.param(f"{'x' * 33}.shp", "33 characters", id="too long"),
        pytest.param("con.shp", "device", id="a device"),
    ],
)
def test_names_that_do_not_load_are_refused(
    out: str, match: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One clear line, and no file."""
    path = cases.write_plain(tmp_path)
    before = digests(tmp_path)
    refused(match, str(path), "--fix", str(tmp_path / out), capsys=capsys)
    assert digests(tmp_path) == before


def test_a_folder_that_is_the_map_stays_one_map(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A mended map is not put into the folder that was read as a map."""
    path = cases.write_plain(tmp_path / "map")
    refused("map itself", str(path.parent), "--fix", str(path.parent), capsys=capsys)


# ---- rates


def stepped(folder: Path, wanted: Sequence[float], **options: Any) -> Fixed:
    path = strips(folder, wanted)
    return fixed(path, product=library(folder), **({"rates": True} | options))


def test_rates_stay_unless_they_are_asked_for(tmp_path: Path) -> None:
    """87.3 is no step of 5 and 210 is above the maximum: both stay, and the mended map says so."""
    found = stepped(tmp_path, [87.3, 210, 100], rates=False)
    assert rates(read_layer(found.path)) == {"A": 87.3, "B": 210, "C": 100}
    assert found.changes == ()
    assert {"rate-off-step", "rate-above-max"} <= {one.id for one in found.check.findings}


def test_rates_are_brought_onto_steps(tmp_path: Path) -> None:
    """Each changed rate is told with its ground and amount; what the product allows stays as it is written."""
    found = stepped(tmp_path, [87.3, 201, 100])
    assert rates(read_layer(found.path)) == {"A": 85, "B": 200, "C": 100}
    # 3.5 ha each: 2.3 kg/ha less are 8.05 kg, 1 kg/ha less 3.5 kg.
    assert "Rate 87.3 becomes 85 kg/ha in A (record 1), on 3.5000 ha (8.649 ac): -8.05 kg." in found.changes
    assert any("201 becomes 200" in one and "-3.5 kg" in one for one in found.changes)
    assert len(found.changes) == 2
    assert found.check.verdict == "clear"


def test_below_the_minimum_the_product_decides(tmp_path: Path) -> None:
    """A product whose plan refuses rates below its minimum gets none chosen; one that raises is raised."""
    raising = SPREADER.replace("step =", 'below_min = "raise"\nstep =')
    asked = library(tmp_path, raising)
    found = fixed(strips(tmp_path, [19, 150, 150]), product=asked, rates=True)
    assert rates(read_layer(found.path))["A"] == 20
    refusing = library(tmp_path, SPREADER.replace("step =", 'below_min = "refuse"\nstep ='))
    with pytest.raises(VrxError, match=r"can't be given at every rate.*A \(record 1\) with 19"):
        fixed(strips(tmp_path, [19, 150, 150]), product=refusing, rates=True, out=tmp_path / "no.geojson")
    assert not (tmp_path / "no.geojson").exists()


@pytest.mark.parametrize(("rate", "goes"), [(102.05, False), (102.03, True)])
def test_two_percent_of_the_total_is_the_most(rate: float, goes: bool, tmp_path: Path) -> None:
    """One rate on the whole field, rounded to 100: 2.05 of 102.05 is 2.009 %, 2.03 of 102.03 is 1.990 %."""
    assert (2.05 / 102.05 > 0.02, 2.03 / 102.03 < 0.02) == (True, True)
    if goes:
        assert rates(read_layer(stepped(tmp_path, [rate]).path)) == {"A": 100}
        return
    # 10.5 ha: 1,071.525 kg become 1,050 kg.
    with pytest.raises(VrxError, match=r"1,050 kg and not 1,071\.5.*-21\.5\S* kg \(-2\.0 %\).*[Aa]sk the adviser"):
        stepped(tmp_path, [rate])
    assert not (tmp_path / "mended.geojson").exists()


def test_rates_are_never_brought_up_from_nothing(tmp_path: Path) -> None:
    """A map of zeros for a product that can't be shut off is no map to be mended."""
    never_off = library(tmp_path, SPREADER.replace("step =", "off_allowed = false\nstep ="))
    with pytest.raises(VrxError, match="can't be given at every rate"):
        fixed(strips(tmp_path, [0, 0]), product=never_off, rates=True)


def opened(folder: Path, name: str) -> dict[str, Any]:
    """A map, and how it is asked for, with one of the findings under which no rate is moved."""
    near = {"product": library(folder), "rates": True}
    if name == "other-field":
        write_box(folder / "far.geojson", 1000.0, 0.0, 1400.0, 250.0)
        return near | {"boundary": folder / "far.geojson"}
    if name == "product-unknown":
        return {"product": library(folder, name="Nobody's"), "rates": True}
    if name == "crop-mismatch":
        return {"plan": plan_for(folder, field='crop = "barley"'), "product": "Granular", "rates": True}
    if name == "product-form-mismatch":
        return {"product": library(folder), "unit": "L/ha", "rates": True}
    return near


@pytest.mark.parametrize("name", ["other-field", "product-unknown", "product-form-mismatch", "crop-mismatch"])
def test_no_rate_is_moved_while_it_is_open_which_are_right(name: str, tmp_path: Path) -> None:
    """The finding and its remedy are told, and nothing is written; without --fix-rates the map is mended."""
    path = strips(tmp_path, [87.3, 100], more={"crop": ["winter wheat"] * 2} if name == "crop-mismatch" else None)
    options = opened(tmp_path, name)
    out = tmp_path / "mended.geojson"
    with pytest.raises(VrxError) as err:
        fixed(path, out=out, **options)
    assert any(f"while {name} is open" in one.problem and one.remedy for one in err.value.each)
    assert not out.exists()
    found = fixed(path, out=out, **(options | {"rates": False}))
    assert name in {one.id for one in found.check.findings}


def test_a_unit_that_is_suspect_keeps_rates_as_they_are(tmp_path: Path) -> None:
    """112.2 fits as L/ha (12 gal/ac) and is read as gal/ac: nobody knows which is meant."""
    path = strips(tmp_path, (112.2, 131.0, 149.7), widths=(200, 120, 100))
    with pytest.raises(VrxError) as err:
        fixed(path, product=library(tmp_path, SPRAYER, name="Liquid", units="us"), unit="us_gal/ac", rates=True)
    assert any("while rate-unit-suspect is open" in one.problem for one in err.value.each)
    assert not (tmp_path / "mended.geojson").exists()


def test_no_steps_are_known_without_a_product(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--fix-rates asks for a product, and for --fix."""
    path = strips(tmp_path, [87.3])
    refused("--product", str(path), "--fix", str(tmp_path / "x.shp"), "--fix-rates", capsys=capsys)
    refused("--fix OUT", str(path), "--fix-rates", capsys=capsys)


def test_a_record_without_a_rate_is_not_mended(tmp_path: Path) -> None:
    """Each is named with what stands there; one without ground does not count, as it is left out."""
    path = strips(tmp_path, [85, None, "n/a", -9999])
    with pytest.raises(VrxError, match=r"B \(record 2\) \(empty\), C \(record 3\) \(n/a\), D \(record 4\) \(-9999\)"):
        fixed(path)
    assert not (tmp_path / "mended.geojson").exists()
    features = [feature(polygon(rectangle(-210, 0, 210, 250)), zone="A", rate=5), feature(None, zone="B", rate=None)]
    assert len(read_layer(fixed(write_geojson(path, features)).path).shapes) == 1


def test_a_column_that_is_not_known_is_asked_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two columns may hold the rates: none is chosen."""
    path = strips(tmp_path, [85, 90], column="rate_1", more={"rate_2": [1, 2]})
    refused("--column", str(path), "--fix", str(tmp_path / "x.shp"), capsys=capsys)


# ---- what is told


def test_json_tells_of_both_maps(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The check is of the map as it is; ``fixed`` has the files, the changes and the verdict of the mended one."""
    rings = {"A": [rectangle(-210, 0, 0, 250)], "B": [rectangle(-20, 0, 210, 250)]}
    path = squares(tmp_path, rings, {"A": 100, "B": 100})
    out = tmp_path / "mended.shp"
    assert main(["check", str(path), "--unit", "kg/ha", "--fix", str(out), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["map"]["name"] == "map.geojson"
    assert "overlap" in {one["id"] for one in said["findings"]}
    assert set(said["fixed"]) == {"path", "files", "changes", "left", "verdict"}
    assert said["fixed"]["path"] == str(out.resolve())
    assert sorted(Path(one).suffix for one in said["fixed"]["files"]) == [".cpg", ".dbf", ".prj", ".shp", ".shx"]
    assert said["fixed"]["verdict"] == "clear"


def test_text_names_both_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where the mended map is, that the old one is unchanged, what was done, and the verdict of the new one."""
    rings = {"A": [rectangle(-210, 0, 0, 250)], "B": [rectangle(-20, 0, 210, 250)]}
    path = squares(tmp_path, rings, {"A": 100, "B": 100})
    assert main(["check", str(path), "--unit", "kg/ha", "--fix", str(tmp_path / "mended.shp")]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert f"Mended map, written and read back: {tmp_path / 'mended.shp'}" in text
    assert "The map as it was, map.geojson, is unchanged" in text
    assert "that goes to" in text
    assert "CLEAR as far as could be looked: mended.shp." in text


# ---- all or nothing


@pytest.mark.slow
def test_what_can_t_be_written_leaves_nothing(tmp_path: Path) -> None:
    """Whichever step of the system fails, for want of room or once: the old files or the new ones, all of them."""
    path = cases.write_plain(tmp_path / "in")
    out = tmp_path / "out"
    out.mkdir()
    options: dict[str, Any] = {"unit": "kg/ha", "column": "RATE", "out": out / "new.shp"}
    fixed(path, **options)
    whole = digests(out)
    hit = 0
    for old in ({}, whole):
        for forever in (False, True):
            for at in range(1, 60):
                for one in out.iterdir():
                    one.unlink()
                for name in old:
                    (out / name).write_bytes(b"old")
                before = digests(out)
                fault = Fault(at, forever=forever, code=errno.ENOSPC)
                try:
                    with disturbed(fault):
                        fixed(path, force=True, **options)
                except VrxError:
                    left = {name: one for name, one in digests(out).items() if not name.startswith(".")}
                    if forever:  # nothing can be taken back any more: at least there is nothing to open that is new
                        assert left.get("new.shp") == before.get("new.shp") or "new.shp" not in left, at
                    else:
                        assert left == before, at
                        assert not list(out.glob(".*")), at
                else:
                    assert {name: digests(out)[name] for name in whole} == whole
                hit += fault.hit
                for one in list(out.iterdir()):
                    if one.is_dir():
                        import shutil

                        shutil.rmtree(one)
                if not fault.hit:
                    break
    assert hit > 20


KILLED = """
import sys
from pathlib import Path
import support_kill
from vrx.cli.main import main
path, out, at = sys.argv[1:]
words = ["check", path, "--unit", "kg/ha", "--fix"]
assert main([*words, str(Path(path).with_name("warm.shp")), "--force"]) == 0  # all modules are loaded after this
support_kill.disturb("kill", int(at), str(Path(out).parent))
sys.exit(main([*words, out]))
"""


@pytest.mark.slow
def test_a_kill_leaves_no_map_that_is_not_whole(tmp_path: Path) -> None:
    """Killed at any step: there is no .shp, or all of it; and the next run cleans up."""
    path = cases.write_plain(tmp_path / "in")
    ended = None
    for at in range(1, 60):
        out = tmp_path / f"out{at}"
        out.mkdir()
        words = [sys.executable, "-c", KILLED, str(path), str(out / "new.shp"), str(at)]
        ended = subprocess.run(words, env={**os.environ, "PYTHONPATH": str(TESTS)}, capture_output=True, check=False)
        if (out / "new.shp").exists():
            assert len(read_layer(out / "new.shp").shapes) == 3
            assert len([one for one in out.iterdir() if one.name.startswith("new.")]) == 5
        if ended.returncode == 0:
            break
        assert ended.returncode == -9, ended.stderr
        assert fixed(path, out=out / "new.shp", column="RATE", force=True).check.verdict == "clear"
        assert sorted(one.suffix for one in out.iterdir()) == [".cpg", ".dbf", ".prj", ".shp", ".shx"]
    assert ended is not None
    assert ended.returncode == 0
    assert at > 10


def test_what_was_written_is_read_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A rate that does not come back as it was written leaves no file."""
    from vrx.runs import fix

    def wrong(sheet: Any, folder: Path, form: Any) -> list[Path]:
        from vrx.exports.formats import write_sheet

        files = write_sheet(sheet, folder, form)
        files[0].write_text(files[0].read_text().replace('"rate":85', '"rate":86'))
        return files

    monkeypatch.setattr(fix, "write_sheet", wrong)
    with pytest.raises(OutputError, match=r"in column rate '85\.0' came back as '86'"):
        fixed(strips(tmp_path, [85, 90]))
    assert sorted(one.name for one in tmp_path.iterdir()) == ["map.geojson"]


def test_many_shapes_are_mended_in_one_go(tmp_path: Path) -> None:
    """A grid of 400 cells of one rate, each reaching 0.4 m over the next: the ground counts once, cell by cell."""
    features = []
    for row in range(20):
        for column in range(20):
            ring = rectangle(column * 10.0, row * 10.0, column * 10 + 10.4, row * 10 + 10.0)
            features.append(feature(polygon(ring), zone=f"{row}-{column}", rate=100))
    path = write_geojson(tmp_path / "map.geojson", features)
    layer = read_layer(fixed(path).path)
    assert len(layer.shapes) == 400
    assert fits(layer)
    # 20 rows of 200.4 m by 10 m
    assert sum(hectares(layer).values()) == pytest.approx(20 * 200.4 * 10 / 1e4, rel=1e-6)
    # Each strip of 4 m2 goes to one of the two beside it.
    assert np.ptp(list(hectares(layer).values())) < 0.0009
