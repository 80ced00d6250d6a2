from __future__ import annotations

import sqlite3
import struct
from pathlib import Path

import pytest
import shapely
import support_cases as cases

from vrx.errors import CrsError, InputError
from vrx.inputs.geopackage import read_geopackage
from vrx.inputs.read import read_layer

BOX = shapely.box(500_000, 4_400_000, 500_100, 4_400_100)


def write(path: Path, *rows: tuple[bytes | None, str, float | str | None], srs: int = 32614, **more: str) -> Path:
    return cases.write_geopackage(path, {"zones": list(rows)}, srs=srs, **more)


def test_rows_become_records_numbered_by_their_key(tmp_path: Path) -> None:
    """The primary key numbers the records and is no column; a missing shape is None."""
    path = write(tmp_path / "z.gpkg", (BOX.wkb, "A", 90.5), (None, " ", None), (shapely.Polygon().wkb, "C", "n/a"))
    layer = read_layer(path)
    assert layer.crs == "EPSG:32614"
    assert [shape and shape.area for shape in layer.shapes] == [10_000.0, None, None]
    assert layer.records.tolist() == [1, 2, 3]
    assert {name: (column.kind, column.cells) for name, column in layer.columns.items()} == {
        "zone": ("text", ("A", None, "C")),
        "rate": ("number", (90.5, None, "n/a")),
    }


@pytest.mark.parametrize("order", [0, 1])
@pytest.mark.parametrize(("code", "doubles"), [(0, 0), (1, 4), (2, 6), (3, 6), (4, 8)])
def test_envelopes_and_byte_orders(tmp_path: Path, order: int, code: int, doubles: int) -> None:
    """The header before a shape has any of five envelopes (OGC 12-128, clause 2.1.3), in either byte order."""
    path = write(tmp_path / "z.gpkg", (BOX.wkb, "A", 1.0))
    blob = b"GP\0" + bytes([order | code << 1]) + struct.pack("<i", 32614) + b"\0" * 8 * doubles
    with sqlite3.connect(path) as db:
        db.execute("UPDATE zones SET geom = ?", (blob + shapely.to_wkb(BOX, byte_order=order),))
    db.close()
    assert read_layer(path).shapes[0].equals(BOX)


def test_heights_in_well_known_binary_are_left_out(tmp_path: Path) -> None:
    """A shape with Z becomes flat, with the note."""
    layer = read_layer(write(tmp_path / "z.gpkg", (shapely.force_3d(BOX, 7.0).wkb, "A", 1.0)))
    assert not layer.shapes[0].has_z
    assert [finding.id for finding in layer.findings] == ["has-z"]


def test_several_layers_are_listed_and_one_can_be_named(tmp_path: Path) -> None:
    """With two layers a person has to say which."""
    rows = [(BOX.wkb, "A", 1.0)]
    path = cases.write_geopackage(tmp_path / "z.gpkg", {"soil": rows, 'odd "name"': rows * 2}, srs=32614)
    with pytest.raises(InputError, match=r"several layers: .*odd.*, 'soil'"):
        read_layer(path)
    with pytest.raises(InputError, match="no layer 'soils'"):
        read_layer(path, layer="soils")
    assert len(read_layer(path, layer="SOIL").shapes) == 1
    assert len(read_layer(path, layer='odd "name"').shapes) == 2


@pytest.mark.parametrize("srs", [0, -1])
def test_an_undefined_crs_is_as_missing(tmp_path: Path, srs: int) -> None:
    """Numbers 0 and -1 stand for undefined (OGC 12-128, clause 1.1.2); the plan can settle it."""
    path = write(tmp_path / "z.gpkg", (BOX.wkb, "A", 1.0), srs=srs)
    with pytest.raises(CrsError, match="undefined"):
        read_layer(path)
    assert read_layer(path, crs="EPSG:32614").findings == ()


def test_a_local_grid_is_as_missing(tmp_path: Path) -> None:
    """A local grid has no place on earth."""
    local = 'LOCAL_CS["Undefined SRS",LOCAL_DATUM["unknown",32767],UNIT["unknown",0],AXIS["E",EAST],AXIS["N",NORTH]]'
    with pytest.raises(CrsError, match="local grid"):
        read_layer(write(tmp_path / "z.gpkg", (BOX.wkb, "A", 1.0), srs=99999, definition=local))


def test_curved_shapes_are_named(tmp_path: Path) -> None:
    """A shape of arcs is refused, with its feature and what to do."""
    arc = struct.pack("<BII", 1, 10, 1) + struct.pack("<BII10d", 1, 8, 5, 0, 0, 1, 1, 2, 0, 1, -1, 0, 0)
    with pytest.raises(InputError) as caught:
        read_layer(write(tmp_path / "z.gpkg", (BOX.wkb, "A", 1.0), (arc, "B", 2.0)))
    assert all(word in str(caught.value) for word in ("Feature 2", "curved", "straight segments"))


@pytest.mark.parametrize(
    ("blob", "words"),
    [
        pytest.param(b"XX\0\1\0\0\0\0rest", "feature 1 is no GeoPackage geometry", id="no GP"),
        pytest.param(b"GP", "feature 1 is no GeoPackage geometry", id="short"),
        pytest.param(b"GP\0\x0f\0\0\0\0" + BOX.wkb, "feature 1 is no GeoPackage geometry", id="unknown envelope"),
        pytest.param("text", "feature 1 is no GeoPackage geometry", id="text"),
        pytest.param(cases.gpkg_blob(BOX.wkb[:-9], 32614), "feature 1 can't be read", id="cut short"),
    ],
)
def test_a_damaged_shape_is_named(tmp_path: Path, blob: bytes | str, words: str) -> None:
    """The error names the feature."""
    path = write(tmp_path / "z.gpkg", (BOX.wkb, "A", 1.0))
    with sqlite3.connect(path) as db:
        db.execute("UPDATE zones SET geom = ?", (blob,))
    db.close()
    with pytest.raises(InputError, match=words):
        read_layer(path)


@pytest.mark.parametrize(
    ("script", "words"),
    [
        pytest.param("PRAGMA application_id = 7", "no GeoPackage", id="another kind of SQLite"),
        pytest.param("DROP TABLE gpkg_contents", "no GeoPackage", id="no contents"),
        pytest.param("DELETE FROM gpkg_contents", "no layer", id="nothing in it"),
        pytest.param("DELETE FROM gpkg_geometry_columns", "no shapes", id="a table without shapes"),
        pytest.param("DROP TABLE zones", "can't be read", id="the table is not there"),
        pytest.param(
            "DROP TABLE zones; CREATE VIEW zones AS WITH RECURSIVE n(geom) AS (SELECT 1 UNION ALL SELECT geom FROM n) "
            "SELECT count(*) AS geom FROM n",
            "can't be read: interrupted",
            id="a view without end",
        ),
    ],
)
def test_what_is_no_geopackage_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, script: str, words: str
) -> None:
    """Each is refused in a line, and nothing runs for ever."""
    monkeypatch.setattr("vrx.inputs.geopackage._MOST_STEPS", 50)
    path = write(tmp_path / "z.gpkg", (BOX.wkb, "A", 1.0))
    db = sqlite3.connect(path)
    db.executescript(script)
    db.close()
    with pytest.raises(InputError, match=words):
        read_layer(path)


def test_changes_that_are_not_in_the_file_yet_are_a_caution(tmp_path: Path) -> None:
    """A log of a program that has it open is not read, and said; nothing is made beside the file."""
    path = write(tmp_path / "z.gpkg", (BOX.wkb, "A", 1.0))
    path.with_name("z.gpkg-wal").write_bytes(b"log")
    before = sorted(one.name for one in tmp_path.iterdir())
    assert [(finding.id, finding.severity) for finding in read_layer(path).findings] == [("gpkg-log", "caution")]
    assert sorted(one.name for one in tmp_path.iterdir()) == before


def test_write_ahead_mode_is_read_from_file_and_from_memory(tmp_path: Path) -> None:
    """A file that was left in write-ahead mode is read all the same."""
    path = write(tmp_path / "z%20#?.gpkg", (BOX.wkb, "A", 1.0))
    db = sqlite3.connect(path)
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("UPDATE zones SET rate = 2.0")
    db.commit()
    db.close()
    assert path.read_bytes()[18:20] == b"\x02\x02"
    for file in (path, path.read_bytes()):
        assert read_geopackage(file, source="z.gpkg").columns["rate"].cells == (2.0,)
    assert [one.name for one in tmp_path.iterdir()] == [path.name]
