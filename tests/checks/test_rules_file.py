"""Rules about the file itself: whether it can be read and placed, what it holds, its names, and its build."""

from __future__ import annotations

import shutil
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from support_cases import (
    EDGES_M,
    HEIGHT_M,
    UTM,
    feature,
    moved,
    polygon,
    rectangle,
    write_cp1252,
    write_geojson,
    write_heights_and_parts,
    write_no_prj,
    write_no_shx,
    write_null_and_empty,
    write_odd_prj,
    write_plain,
    write_shapefile,
    write_swapped,
    zone_ring,
)
from support_checks import named, plan_for, strips, the, unseen
from support_fields import bench, write_line, write_points

from vrx.checks.catalog import SEVERITIES
from vrx.checks.parts import parts_of
from vrx.checks.reader_words import check_words
from vrx.checks.rules import crs_suspect, has_z, unreadable
from vrx.checks.runner import run_rules
from vrx.errors import CrsError, GeometryError, VrxError
from vrx.inputs.read import read_layer
from vrx.model.check import Check
from vrx.model.checked_map import CheckedMap, MapSource
from vrx.model.finding import Finding
from vrx.model.layer import Layer
from vrx.runs.build import build
from vrx.runs.check import check

FILE_RULES = (
    "unreadable", "missing-part", "no-crs", "crs-unknown", "crs-suspect", "crs-accuracy", "encoding", "not-polygons",
    "no-shape", "empty-map", "name-not-loadable", "too-many-features", "too-many-vertices", "multipart", "has-z",
    "changed-since-build", "file-newer-than-bundle",
)  # fmt: skip
RATES = (85, 115, 140)


def file_ids(found: Check) -> list[str]:
    """Return what the rules about the file found, in their order."""
    return [one.id for one in found.findings if one.id in FILE_RULES]


def severities(found: Check, name: str) -> list[str]:
    return [one.severity for one in named(found, name)]


def test_a_plain_map_is_not_spoken_of(tmp_path: Path) -> None:
    """Neither as a shapefile nor as GeoJSON, with or without a plan; only bundles were not found."""
    plan = plan_for(tmp_path)
    for path in (write_plain(tmp_path), strips(tmp_path, RATES)):
        for against in ({"unit": "kg/ha"}, {"plan": plan}):
            found = check([path], **against)
            assert file_ids(found) == []
            assert {one.id for one in found.not_checked} & set(FILE_RULES) == {
                "changed-since-build",
                "file-newer-than-bundle",
            }


# ---- reading


def test_what_can_not_be_read(tmp_path: Path) -> None:
    """Each file that can't be is named with its problem; other rules say that they could not look."""
    one, other = tmp_path / "cut.geojson", tmp_path / "none.geojson"
    one.write_text('{"type": "FeatureCollection", "features": [{')
    other.write_text("")
    found = check([one])
    assert file_ids(found) == ["unreadable"]
    assert the(found, "unreadable").severity == "stop"
    assert not the(found, "unreadable").message.startswith("cut.geojson")
    assert unseen(found, "no-shape") == ["The map could not be read."]
    both = named(check([one, other]), "unreadable")
    assert [each.message.partition(":")[0] for each in both] == ["cut.geojson", "none.geojson"]


def test_errors_about_the_place_have_rules_of_their_own() -> None:
    """Whatever else there is, is told as unreadable, with its remedy."""
    failures = (GeometryError("It spans 900 km.", remedy="Check its CRS."), CrsError("Odd.", where="a.shp, record 3"))
    on = CheckedMap(source=MapSource(name="a.shp", stem="a", format="shp"), failures=failures)
    assert [(one.message, one.remedy) for one in unreadable.look(on)] == [
        ("It spans 900 km.", "Check its CRS."),
        ("a.shp, record 3: Odd.", ""),
    ]


def test_no_crs(tmp_path: Path) -> None:
    """The range of the coordinates, and remedies that fit a check; once it is said, nothing."""
    path = write_no_prj(tmp_path)
    one = the(check([path], unit="kg/ha"), "no-crs")
    assert one.severity == "stop"
    assert "metres" in one.message
    assert "--crs EPSG:..." in one.remedy
    assert ".prj" in one.remedy
    assert "plan" not in one.remedy
    assert file_ids(check([path], unit="kg/ha")) == ["no-crs"]
    assert file_ids(check([path], unit="kg/ha", crs=UTM)) == []


def test_a_crs_that_is_no_system(tmp_path: Path) -> None:
    """A stop where it can't be read, with the option of a check; the reader's own note where it can."""
    path = write_shapefile(tmp_path, "odd", [[moved(zone_ring("A")[::-1], UTM)]], [["A", "85.00"]], prj="flat, local")
    found = check([path], unit="kg/ha")
    one = the(found, "crs-unknown")
    assert (one.severity, file_ids(found)) == ("stop", ["crs-unknown"])
    assert "'flat, local'" in one.message
    assert "say it with --crs EPSG:..." in one.remedy
    assert "plan" not in one.remedy
    note = the(check([write_odd_prj(tmp_path / "named")], unit="kg/ha"), "crs-unknown")
    assert note.severity == "note"
    assert "GCS_Bench_Survey_Local" in note.message


def test_coordinates_that_do_not_fit(tmp_path: Path) -> None:
    """Swapped axes stop; a CRS made for elsewhere, or another one said than the file's own, is a caution."""
    one = the(check([write_swapped(tmp_path)]), "crs-suspect")
    assert one.severity == "stop"
    assert "latitude" in one.message
    assert "swapped" in one.message
    degrees = [[moved(zone_ring("A")[::-1], "EPSG:4326")]]
    far = write_shapefile(tmp_path, "far", degrees, [["A", "85.00"]], crs=UTM)
    away = the(check([far], unit="kg/ha"), "crs-suspect")
    assert away.severity == "caution"
    assert "far.shp: in its CRS, EPSG:32614, the map lies" in away.message
    assert "look like degrees" in away.message
    said = the(check([write_plain(tmp_path)], unit="kg/ha", crs="EPSG:32615"), "crs-suspect")
    assert said.severity == "caution"
    assert "has its own CRS, EPSG:32614, and was said to be in EPSG:32615" in said.message
    assert "plan" not in f"{said.message}{said.remedy}"
    assert file_ids(check([write_plain(tmp_path)], unit="kg/ha", crs=UTM)) == []


@pytest.mark.parametrize(
    ("write", "crs"),
    [
        pytest.param(write_no_prj, "", id="none"),
        pytest.param(lambda folder: write_shapefile(folder, "odd", [None], [["A", "1.00"]], prj="flat"), "", id="odd"),
        pytest.param(write_plain, "EPSG:99999", id="said wrongly"),
        pytest.param(write_plain, "EPSG:5773", id="said a height"),
        pytest.param(lambda folder: write_table(folder, "a,b\n1,2\n"), "", id="table without places"),
        pytest.param(lambda folder: write_table(folder, "easting,northing\n1,2\n"), "", id="table"),
    ],
)
def test_remedies_of_readers_fit_a_check(tmp_path: Path, write: Any, crs: str) -> None:
    """What a reader says to write into the plan, a check says with its own option."""
    path = write(tmp_path)
    with pytest.raises(VrxError) as err:
        read_layer(path, crs=crs)
    assert "in the plan" in err.value.remedy or 'crs = "EPSG' in err.value.remedy
    told = check_words(err.value.remedy)
    assert "--crs" in told
    assert "plan" not in told
    assert "crs =" not in told


def write_table(folder: Path, text: str) -> Path:
    path = folder / "points.csv"
    path.write_text(text)
    return path


def test_an_old_datum(tmp_path: Path) -> None:
    """NAD27 is good to 7 m here, by the EPSG dataset within PROJ; NAD83 counts as WGS 84."""
    found = {}
    for crs in ("EPSG:26714", "EPSG:26914"):
        path = write_shapefile(tmp_path / crs[5:], "map", [[moved(zone_ring("A")[::-1], crs)]], [["A", "85"]], crs=crs)
        found[crs] = check([path], unit="kg/ha")
    one = the(found["EPSG:26714"], "crs-accuracy")
    assert one.severity == "caution"
    assert one.message.startswith("The map is in EPSG:26714, which")
    assert "7.00 m (23.0 ft)" in one.message
    assert file_ids(found["EPSG:26914"]) == []


# ---- what the reader noticed


@pytest.mark.parametrize(
    ("write", "name", "words"),
    [
        pytest.param(write_no_shx, "missing-part", "no .shx", id="shx"),
        pytest.param(write_cp1252, "encoding", "cp1252", id="encoding"),
        pytest.param(write_heights_and_parts, "has-z", "(Z)", id="heights"),
    ],
)
def test_what_the_reader_noticed(tmp_path: Path, write: Any, name: str, words: str) -> None:
    """It is told once, under its own id, as gravely as it is."""
    one = the(check([write(tmp_path)], unit="kg/ha"), name)
    assert one.severity == "note"
    assert words in one.message


def test_nothing_that_the_reader_says_is_lost(tmp_path: Path) -> None:
    """Records by their numbers in the file, area, and place on earth come through a rule as they are."""
    on = check([write_plain(tmp_path)], unit="kg/ha").on
    said = Finding(
        id="has-z",
        severity="note",
        message="m",
        remedy="r",
        area_m2=12.5,
        where=shapely.Point(-96, 40),
        features=(2, 70),
        product="P",
        zone="B",
    )
    layer = on.the_layer
    changed = Layer(
        source=layer.source,
        crs=layer.crs,
        shapes=layer.shapes,
        columns=layer.columns,
        records=layer.records,
        findings=(said,),
    )
    (seen,) = has_z.look(CheckedMap(source=on.source, layer=changed))
    assert seen.features == (2, 70)
    again = run_rules(CheckedMap(source=on.source, layer=changed), [has_z.RULE], SEVERITIES)
    assert again.findings == (said,)
    assert list(crs_suspect.look(CheckedMap(source=on.source, layer=changed))) == []


# ---- what it holds


def test_records_without_a_shape(tmp_path: Path) -> None:
    """Each is named; a file of nothing else is empty, and says so once."""
    one = the(check([write_null_and_empty(tmp_path)], unit="kg/ha"), "no-shape")
    assert one.severity == "caution"
    assert one.message == (
        "2 records have no shape: NOWHERE1 (record 3), NOWHERE2 (record 4). They are left out of areas and totals."
    )
    assert one.features == (3, 4)
    empty = write_shapefile(tmp_path, "none", [None, None], [["A", "1.00"], ["B", "2.00"]])
    found = check([empty], unit="kg/ha")
    assert file_ids(found) == ["empty-map"]
    assert the(found, "empty-map").message == "The map is empty: of its 2 records none has a shape."


@pytest.mark.parametrize(
    ("geometries", "words"),
    [
        pytest.param([], "The map holds no record.", id="no record"),
        pytest.param([None], "The map is empty: its one record has no shape.", id="one"),
        pytest.param([polygon([(0.0, 0.0), (50.0, 0.0), (0.0, 0.0), (0.0, 0.0)])],
                     "The map is empty: its one record has no shape with an area.", id="flat"),
        pytest.param([polygon(rectangle(0.0, 0.0, 0.5, 0.5))], "", id="small"),
    ],
)  # fmt: skip
def test_an_empty_map(tmp_path: Path, geometries: list[Any], words: str) -> None:
    """No record, no shape, or no area: a stop; any ground at all is none."""
    path = write_geojson(tmp_path / "map.geojson", [feature(one, rate=50) for one in geometries])
    found = check([path], unit="kg/ha")
    assert [(one.severity, one.message) for one in named(found, "empty-map")] == [("stop", words)] * bool(words)
    assert not named(found, "not-polygons")
    assert not named(found, "no-shape")


def test_points_and_lines(tmp_path: Path) -> None:
    """Nothing but them stops; some beside polygons are a caution that names them."""
    points = the(check([write_points(tmp_path / "p.geojson", [(0, 0), (9, 9)])], unit="kg/ha"), "not-polygons")
    assert points.severity == "stop"
    assert points.message == ("2 records hold points, not ground: record 1, record 2. The map has no polygon at all.")
    lines = check([write_line(tmp_path / "l.geojson", [(0, 0), (9, 9)])], unit="kg/ha")
    assert the(lines, "not-polygons").message.startswith("1 record holds lines")
    assert file_ids(lines) == ["not-polygons"]
    (x, y), *_ = moved([(0.0, 0.0)], "EPSG:4326")
    mixed = [feature(polygon(zone_ring("A")), zone="A", rate=85)]
    mixed += [feature({"type": "Point", "coordinates": [x, y]}, zone="Well", rate=0)]
    one = the(check([write_geojson(tmp_path / "m.geojson", mixed)], unit="kg/ha"), "not-polygons")
    assert (one.severity, one.features) == ("caution", (2,))
    assert "Well (record 2)" in one.message


def test_several_parts(tmp_path: Path) -> None:
    """How many parts each record has; a hole is no part."""
    found = check([write_heights_and_parts(tmp_path)], unit="kg/ha")
    one = the(found, "multipart")
    assert (one.severity, one.features) == ("note", (3,))
    assert one.message.startswith("1 record has several parts: C (record 3) 2.")
    ring, hole = zone_ring("A"), rectangle(-150.0, 50.0, -100.0, 90.0)
    holed = write_geojson(tmp_path / "holed.geojson", [feature(polygon(ring, hole), zone="A", rate=85)])
    assert not named(check([holed], unit="kg/ha"), "multipart")


def test_parts_within_parts() -> None:
    """Multipolygons within collections within collections are taken apart; lines and points are no part."""
    box = shapely.box(0, 0, 1, 1)
    nest = shapely.GeometryCollection([shapely.MultiPolygon([box, shapely.box(2, 2, 3, 3)]), shapely.Point(0, 0)])
    shapes = [None, shapely.GeometryCollection([nest, box]), shapely.Polygon(), box, shapely.MultiPoint([(0, 0)])]
    array = shapely.from_wkb([None if one is None else one.wkb for one in shapes])
    layer = Layer(source="s", crs=UTM, shapes=array, columns={}, records=np.arange(1, 6))
    polygons, owner = parts_of(layer)
    assert owner.tolist() == [1, 1, 1, 3]
    assert shapely.area(polygons).tolist() == [1.0] * 4


# ---- limits of a display


def grid(folder: Path, count: int) -> Path:
    """Write strips of equal width from west to east, named by their numbers."""
    step = (EDGES_M[-1] - EDGES_M[0]) / count
    rings = (rectangle(EDGES_M[0] + at * step, 0.0, EDGES_M[0] + (at + 1) * step, HEIGHT_M) for at in range(count))
    return write_geojson(folder / "grid.geojson", [feature(polygon(ring), rate=50 + at % 2) for at, ring in
                                                    enumerate(rings)])  # fmt: skip


@pytest.mark.parametrize(
    ("count", "severity"), [pytest.param(21, ["stop"], id="over"), pytest.param(20, [], id="just")]
)
def test_more_records_than_the_receiver_loads(tmp_path: Path, count: int, severity: list[str]) -> None:
    """The plan says 20."""
    plan = plan_for(tmp_path, rest="[receiver]\nmost_features = 20\n")
    found = check([grid(tmp_path, count)], plan=plan)
    assert severities(found, "too-many-features") == severity
    for one in named(found, "too-many-features"):
        assert one.message == "The map has 21 records, and the receiver of plan.toml loads 20."


@pytest.mark.parametrize(
    ("count", "severity"), [pytest.param(5001, ["caution"], id="over"), pytest.param(5000, [], id="just")]
)
def test_more_records_than_a_strict_display_loads(tmp_path: Path, count: int, severity: list[str]) -> None:
    """Without a plan 5,000: common practice, no source."""
    rows = [["A", "50.00"]] * count
    path = write_shapefile(tmp_path, "map", [[moved(zone_ring("A")[::-1], UTM)], *[None] * (count - 1)], rows)
    found = check([path], unit="kg/ha")
    assert severities(found, "too-many-features") == severity
    for one in named(found, "too-many-features"):
        assert one.message == "The map has 5,001 records; a strict display loads 5,000."


def round_map(folder: Path, vertices: int) -> Path:
    """Write a circle of so many vertices, its closing one included, and a second part beside it that is smaller."""
    circle = [(one[0], one[1]) for one in shapely.Point(0, 125).buffer(90, quad_segs=500).exterior.coords]
    kept = [*circle[: vertices - 1], circle[0]]
    parts = [polygon(kept)["coordinates"], polygon(rectangle(100.0, 0.0, 200.0, 50.0))["coordinates"]]
    shape = {"type": "MultiPolygon", "coordinates": parts}
    return write_geojson(folder / "round.geojson", [feature(shape, zone="Round", rate=80)])


@pytest.mark.parametrize(
    ("vertices", "most", "severity"),
    [
        pytest.param(301, 300, ["stop"], id="over"),
        pytest.param(300, 300, [], id="just"),
        pytest.param(2001, None, ["caution"], id="over, no plan"),
        pytest.param(2000, None, [], id="just, no plan"),
    ],
)
def test_vertices(tmp_path: Path, vertices: int, most: int | None, severity: list[str]) -> None:
    """Those of the largest polygon of a record count, the closing point included; not those of all parts together."""
    rest = f"[receiver]\nmost_vertices = {most}\n"
    against = {"unit": "kg/ha"} if most is None else {"plan": plan_for(tmp_path, rest=rest)}
    found = check([round_map(tmp_path, vertices)], **against)
    assert severities(found, "too-many-vertices") == severity
    for one in named(found, "too-many-vertices"):
        assert f"Round (record 1) {vertices:,}." in one.message
        assert f"loads ({most or 2000:,})" in one.message
        assert one.features == (1,)


# ---- names


@pytest.mark.parametrize(
    ("name", "words"),
    [
        pytest.param("North 40", "North 40 holds a space", id="space"),
        pytest.param("hügel.v2", "hügel.v2 holds ü, a dot", id="letters"),
        pytest.param("COM1", "COM1 is one that Windows keeps for a device", id="device"),
        pytest.param("-map", "-map begins with -", id="dash first"),
        pytest.param("COM10", "", id="no device"),
        pytest.param("North-40_2027", "", id="plain"),
        pytest.param("x" * 33, "", id="long, no plan"),
    ],
)
def test_names_of_files(tmp_path: Path, name: str, words: str) -> None:
    """Odd letters and names of devices are a caution, whether there is a plan or not."""
    path = strips(tmp_path, RATES, name=name)
    found = named(check([path], unit="kg/ha"), "name-not-loadable")
    assert [(one.severity, words in one.message) for one in found] == [("caution", True)] * bool(words)


@pytest.mark.parametrize(
    ("length", "severity"), [pytest.param(33, ["stop"], id="over"), pytest.param(32, [], id="just")]
)
def test_a_name_longer_than_the_receiver_loads(tmp_path: Path, length: int, severity: list[str]) -> None:
    """The plan says 32 where it says nothing."""
    found = check([strips(tmp_path, RATES, name="x" * length)], plan=plan_for(tmp_path))
    assert severities(found, "name-not-loadable") == severity
    for one in named(found, "name-not-loadable"):
        assert "has 33 characters, and the receiver of plan.toml loads 32." in one.message


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        pytest.param(("RATE_KG_HA_NITROGEN", "rate_kg_ha_lime"), "alike when cut to 10 characters", id="alike"),
        pytest.param(("RATE_KG_H_NITROGEN", "RATE_KG_H1_LIME"), "", id="tenth differs"),
    ],
)
def test_columns_that_a_shapefile_can_not_tell_apart(tmp_path: Path, columns: tuple[str, str], words: str) -> None:
    """Two candidates alike in their first ten letters, whatever their case; one long name alone is no matter."""
    path = strips(tmp_path, RATES, column=columns[0], more={columns[1]: RATES})
    found = named(check([path], column=columns[0], unit="kg/ha"), "name-not-loadable")
    assert [(one.severity, words in one.message) for one in found] == [("note", True)] * bool(words)
    assert all(column in one.message for one in found for column in columns)
    alone = strips(tmp_path, RATES, column=columns[0], name="alone")
    assert not named(check([alone], unit="kg/ha"), "name-not-loadable")


# ---- builds


def built(folder: Path, **changes: Any) -> tuple[Path, Path]:
    """Build the invented field; return its plan and its map."""
    plan = folder / "plan.toml"
    plan.write_text(bench(folder, **changes), encoding="utf-8")
    build(plan, pictures=False, force=True)
    (path,) = (folder / "plan-bundle" / "machine").glob("*.geojson")
    return plan, path


def test_a_map_as_it_was_built(tmp_path: Path) -> None:
    """In its bundle, and copied out of it under another name: nothing, with a bundle that is known."""
    plan, path = built(tmp_path)
    copied = shutil.copy(path, tmp_path / "copied.geojson")
    for one in (path, copied):
        found = check([one], plan=plan)
        assert found.on.the_bundle.bundle == "plan-bundle"
        assert file_ids(found) == []
        assert not unseen(found, "changed-since-build")


def test_a_map_that_was_changed(tmp_path: Path) -> None:
    """One rate more: the file is named, with the bundle whose map it was."""
    plan, path = built(tmp_path)
    path.write_text(path.read_text().replace("115", "150"))
    found = check([path], plan=plan)
    one = the(found, "changed-since-build")
    assert one.severity == "stop"
    assert one.message == f"{path.name} differs from the map {path.stem} that plan-bundle lists."
    assert "copy the map again" in one.remedy
    assert file_ids(found) == ["changed-since-build"]


def test_a_map_in_another_format_than_was_built(tmp_path: Path) -> None:
    """It bears the code of the bundle's map, and none of its bytes: nobody can say that it is the same."""
    plan, path = built(tmp_path)
    other = path.with_suffix(".json")
    other.write_text(path.read_text().replace("115", "150"))
    found = check([other], plan=plan)
    assert found.on.the_bundle.by == "code"
    assert the(found, "changed-since-build").message.startswith(f"{path.stem}.json differs from the map {path.stem}")


def test_a_map_that_was_only_packed(tmp_path: Path) -> None:
    """A zip file under the map's own name is that map; one whose table was changed is not."""
    plan, path = built(tmp_path)
    packed, table = tmp_path / f"{path.stem}.zip", path.with_suffix(".dbf")
    for more, ids in ((b"", []), (b" ", ["changed-since-build"])):
        table.write_bytes(table.read_bytes() + more)
        with zipfile.ZipFile(packed, "w") as archive:
            for part in path.parent.glob(f"{path.stem}.*"):
                if part.suffix != ".geojson":
                    archive.write(part, part.name)
        found = check([packed], plan=plan)
        assert found.on.the_bundle.map_name == path.stem
        assert [one.id for one in found.findings if one.id == "changed-since-build"] == ids


def test_inputs_that_were_changed_since(tmp_path: Path) -> None:
    """The plan, by its content: one that was only touched is the same."""
    plan, path = built(tmp_path)
    plan.touch()
    assert file_ids(check([path], plan=plan)) == []
    plan.write_text(plan.read_text() + "\n# later\n")
    one = the(check([path], plan=plan), "file-newer-than-bundle")
    assert one.severity == "caution"
    assert one.message == "plan.toml was changed after plan-bundle was built."


def test_the_plan_of_another_field(tmp_path: Path) -> None:
    """Its files bear the names of those that the bundle was built from; nobody changed them."""
    (tmp_path / "mine").mkdir()
    (tmp_path / "other").mkdir()
    _, path = built(tmp_path / "mine")
    plan, _ = built(tmp_path / "other")
    was = check([path], plan=plan).on.the_plan.field.name
    plan.write_text(plan.read_text().replace(f'name = "{was}"', 'name = "Elsewhere"'))
    one = the(check([path], plan=plan), "file-newer-than-bundle")
    assert one.message == f"plan-bundle was built for {was}, and plan.toml is for Elsewhere."
    assert "--plan" in one.remedy


def test_why_a_bundle_is_not_known(tmp_path: Path) -> None:
    """With a plan no bundle beside it lists the file; without one it is to be named."""
    plan, path = built(tmp_path)
    renamed = tmp_path / "final.geojson"
    renamed.write_text(path.read_text().replace("115", "110"))
    assert unseen(check([renamed], plan=plan), "changed-since-build") == [
        "No bundle beside plan.toml lists this file: it is from elsewhere, or was changed and renamed."
    ]
    assert "name the plan" in unseen(check([renamed]), "changed-since-build")[0]


def test_a_map_that_can_not_be_read_is_not_said_to_be_empty(tmp_path: Path) -> None:
    """No rule tells of its ground."""
    path = tmp_path / "map.geojson"
    path.write_text("{")
    found = check([path])
    assert "The map could not be read." in unseen(found, "other-field")
    assert "holds no ground" not in " ".join(one.why for one in found.not_checked)


def test_a_map_that_no_build_wrote(tmp_path: Path) -> None:
    """Among the machine files it is a caution; beside the bundle it is just a map."""
    plan, path = built(tmp_path)
    inside, beside = strips(path.parent, RATES, name="stray"), strips(tmp_path, RATES, name="stray")
    one = the(check([inside], plan=plan), "file-newer-than-bundle")
    assert one.severity == "caution"
    assert one.message == "stray.geojson lies among the machine files of plan-bundle, and no build wrote it."
    found = check([beside], plan=plan)
    assert file_ids(found) == []
    assert unseen(found, "file-newer-than-bundle")


def test_an_older_build(tmp_path: Path) -> None:
    """A map kept from before another build took its place, by its name alone; the new one is not spoken of."""
    _, path = built(tmp_path)
    (tmp_path / "stick").mkdir()
    old = Path(shutil.copy(path, tmp_path / "stick" / path.name))
    plan, new = built(tmp_path, zone_keys="", rates='[[rate]]\nproduct = "Granular"\nby = "table"\n'
                      'table = { A = "90 kg/ha", B = "120 kg/ha", C = "150 kg/ha" }\n')  # fmt: skip
    assert new.stem != old.stem
    one = the(check([old], plan=plan), "file-newer-than-bundle")
    assert one.severity == "caution"
    assert one.message == f"{old.stem} is an older build: that of plan-bundle took its place."
    assert new.stem in one.remedy
    assert file_ids(check([new], plan=plan)) == []
