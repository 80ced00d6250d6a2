from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import shapely
import support_cases as cases

from vrx.errors import InputError, Problems, UnknownCrsError, VrxError
from vrx.inputs.read import read_layer
from vrx.inputs.shapefile import read_shapefile

SQUARE = cases.rectangle(0, 0, 100, 100, clockwise=True)
NEXT = cases.rectangle(100, 0, 200, 100, clockwise=True)
POND = cases.rectangle(40, 40, 60, 60)
FIELDS = (("ZONE", "C", 4, 0),)


def parts(shapes: list[list[cases.Ring] | None], **more: object) -> dict[str, bytes]:
    shp, shx = cases.shp_bytes(shapes)
    dbf = cases.dbf_bytes(FIELDS, [[f"Z{at}"] for at in range(1, len(shapes) + 1)])
    return {".shp": shp, ".shx": shx, ".dbf": dbf, ".prj": b"EPSG:32614"}


def point_file(kind: int, *contents: bytes) -> bytes:
    """A ``.shp`` of any type from the contents of its records."""
    body = b"".join(
        struct.pack(">ii", number, len(content) // 2) + content for number, content in enumerate(contents, start=1)
    )
    head = struct.pack(">i20xi", 9994, 50 + len(body) // 2) + struct.pack("<ii64x", 1000, kind)
    return head + body


def test_rings_become_polygons_with_holes_and_parts() -> None:
    """A shell, a shell with its hole, and two shells of one record."""
    raw = read_shapefile(parts([[SQUARE], [SQUARE, POND], [SQUARE, NEXT]]), source="z.shp")
    assert [shape.geom_type for shape in raw.shapes] == ["Polygon", "Polygon", "MultiPolygon"]
    assert shapely.area(raw.shapes).tolist() == [10_000.0, 9_600.0, 20_000.0]
    assert raw.findings == ()


def test_heights_are_read_past_and_said_once() -> None:
    """A polygon file with Z gives flat shapes and one note."""
    content = parts([[SQUARE], [NEXT]])
    content[".shp"], content[".shx"] = cases.shp_bytes([[SQUARE], [NEXT]], kind=15)
    raw = read_shapefile(content, source="z.shp")
    assert not shapely.has_z(raw.shapes).any()
    assert [(finding.id, "heights in the file (Z)" in finding.message) for finding in raw.findings] == [("has-z", True)]


@pytest.mark.parametrize(
    ("kind", "content", "wkt"),
    [
        pytest.param(1, struct.pack("<i2d", 1, 3, 4), "POINT (3 4)", id="point"),
        pytest.param(21, struct.pack("<i3d", 21, 3, 4, 9), "POINT (3 4)", id="point with a measure"),
        pytest.param(11, struct.pack("<i4d", 11, 3, 4, 7, 9), "POINT (3 4)", id="point with a height"),
        pytest.param(8, struct.pack("<i4di4d", 8, 0, 0, 1, 1, 2, 0, 0, 1, 1), "MULTIPOINT ((0 0), (1 1))", id="points"),
        pytest.param(
            3, struct.pack("<i4d3i4d", 3, 0, 0, 1, 1, 1, 2, 0, 0, 0, 1, 1), "LINESTRING (0 0, 1 1)", id="line"
        ),
        pytest.param(
            3,
            struct.pack("<i4d4i8d", 3, 0, 0, 3, 3, 2, 4, 0, 2, 0, 0, 1, 1, 2, 2, 3, 3),
            "MULTILINESTRING ((0 0, 1 1), (2 2, 3 3))",
            id="line in two parts",
        ),
        pytest.param(5, struct.pack("<i", 0), None, id="null shape"),
    ],
)
def test_every_plain_type_is_read(kind: int, content: bytes, wkt: str | None) -> None:
    """Points, lines and their multiples, and null shapes (ESRI Shapefile Technical Description, July 1998)."""
    raw = read_shapefile({".shp": point_file(kind, content), ".prj": b"EPSG:32614"}, source="z.shp")
    assert [shape and shape.wkt for shape in raw.shapes] == [wkt]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        pytest.param(lambda shp: shp[:50], ("50 bytes", "100"), id="header cut"),
        pytest.param(lambda shp: b"\0\0\0\0" + shp[4:], ("file code 0",), id="file code"),
        pytest.param(lambda shp: shp[:28] + b"\1" + shp[29:], ("version",), id="version"),
        pytest.param(lambda shp: shp[:32] + b"\x1f" + shp[33:], ("multipatch",), id="multipatch"),
        pytest.param(lambda shp: shp[:32] + b"\x07" + shp[33:], ("type 7",), id="unknown type"),
        pytest.param(lambda shp: shp[:-10], ("Record 2", "cut short"), id="cut in the second record"),
        pytest.param(lambda shp: shp[:236], ("Record 2", "cut short"), id="second record missing"),
        pytest.param(lambda shp: shp[:108] + b"\x03" + shp[109:], ("Record 1", "type 3"), id="type of a record"),
        pytest.param(lambda shp: shp[:148] + b"\x64" + shp[149:], ("Record 1", "points"), id="lying point count"),
        pytest.param(lambda shp: shp[:152] + b"\x01" + shp[153:], ("record 1", "parts"), id="part not from 0"),
        pytest.param(
            lambda shp: shp[:156] + struct.pack("<d", np.inf) + shp[164:], ("record 1", "finite"), id="infinity"
        ),
    ],
)
def test_damage_is_named_with_its_record(tmp_path: Path, change: object, words: tuple[str, ...]) -> None:
    """A damaged .shp is refused in one line that names the record, where there is one."""
    path = cases.write_shapefile(tmp_path, "z", [[SQUARE], [NEXT]], [["A", "1"], ["B", "2"]], shx=False)
    path.write_bytes(change(path.read_bytes()))  # type: ignore[operator]
    with pytest.raises(InputError) as caught:
        read_layer(path)
    assert all(word in str(caught.value) for word in words)
    assert "\n" not in str(caught.value)


def test_problems_of_several_parts_come_together() -> None:
    """A bad .prj and a cut .shp are both told at once."""
    content = parts([[SQUARE]]) | {".prj": b"no CRS at all"}
    with pytest.raises(Problems) as caught:
        read_shapefile(content | {".shp": content[".shp"][:-8]}, source="z.shp")
    assert [type(one) for one in caught.value.each] == [UnknownCrsError, InputError]


def test_shapes_and_records_must_agree() -> None:
    """Three shapes and two records do not belong together."""
    content = parts([[SQUARE], [NEXT], [POND]])
    content[".dbf"] = cases.dbf_bytes(FIELDS, [["Z1"], ["Z2"]])
    with pytest.raises(InputError, match=r"3 shapes, the \.dbf 2 records"):
        read_shapefile(content, source="z.shp")


def test_a_missing_dbf_is_a_caution() -> None:
    """Shapes alone are read, and a person is told that they have no attributes."""
    content = parts([[SQUARE]])
    del content[".dbf"]
    raw = read_shapefile(content, source="z.shp")
    assert raw.columns == {}
    assert [(finding.id, finding.severity) for finding in raw.findings] == [("missing-part", "caution")]
    assert ".dbf" in raw.findings[0].message


def test_a_wrong_index_is_not_used() -> None:
    """Where the .shp can be walked and fits the table, an index that says otherwise is only noted."""
    content = parts([[SQUARE], [NEXT]])
    content[".shx"] = content[".shx"][:100] + content[".shx"][108:] + content[".shx"][100:108]
    raw = read_shapefile(content, source="z.shp")
    assert [shape.bounds[0] for shape in raw.shapes] == [0.0, 100.0]
    assert [finding.id for finding in raw.findings] == ["index-mismatch"]


def test_a_replaced_shape_left_behind_is_not_read_twice() -> None:
    """A program that moved a grown shape to the end left the old one in place: then the index holds."""
    old, shx = cases.shp_bytes([[SQUARE], [NEXT], [SQUARE, POND]])
    content = parts([[SQUARE], [NEXT]])
    content[".shp"] = old
    content[".shx"] = shx[:100] + shx[116:124] + shx[108:116]
    raw = read_shapefile(content, source="z.shp")
    assert shapely.area(raw.shapes).tolist() == [9_600.0, 10_000.0]
    assert [finding.id for finding in raw.findings] == ["index-mismatch"]


def test_bytes_after_the_stated_end_are_a_caution() -> None:
    """What lies behind the length in the header is not read, and said."""
    content = parts([[SQUARE]])
    content[".shp"] += b"\0" * 24
    raw = read_shapefile(content, source="z.shp")
    assert [(finding.id, finding.severity) for finding in raw.findings] == [("length-mismatch", "caution")]
    assert "24 bytes" in raw.findings[0].message


def test_a_ring_of_two_points_stays_and_has_no_area() -> None:
    """Nothing is dropped unseen: a degenerate ring stays for the repair to report."""
    raw = read_shapefile(parts([[SQUARE, [(1.0, 1.0), (2.0, 2.0)]]]), source="z.shp")
    assert shapely.get_num_coordinates(raw.shapes[0]) == 9


@pytest.mark.parametrize("name", ["BENCH.PRJ", "bench.prj", "Bench.Prj"])
def test_parts_are_found_in_any_case(tmp_path: Path, name: str) -> None:
    """The parts of a shapefile belong together whatever the case of their letters."""
    path = cases.write_plain(tmp_path)
    path.with_suffix(".prj").rename(tmp_path / name)
    assert read_layer(path).crs == cases.UTM


def test_of_two_tables_the_one_spelt_alike_is_taken(tmp_path: Path) -> None:
    """Where names differ by case only, a part belongs to the shape file that is spelt as it is."""
    path = cases.write_plain(tmp_path)
    other = cases.dbf_bytes((("ZONE", "C", 4, 0),), [["X"], ["Y"], ["Z"]])
    for name in ("BENCH.dbf", "Bench.dbf"):
        (tmp_path / name).write_bytes(other)
    if len(list(tmp_path.iterdir())) < 6:
        pytest.skip("this file system does not tell names apart by case")
    assert read_layer(path).columns["ZONE"].cells == ("A", "B", "C")


def test_an_empty_shapefile_has_no_records(tmp_path: Path) -> None:
    """A file without records is a layer without records."""
    path = cases.write_shapefile(tmp_path, "none", [], [])
    layer = read_layer(path)
    assert len(layer.shapes) == len(layer.records) == 0
    assert list(layer.columns) == ["ZONE", "RATE"]


@pytest.mark.parametrize("text", ["", "  \n"])
def test_an_empty_prj_is_as_none(tmp_path: Path, text: str) -> None:
    """An empty .prj says nothing."""
    path = cases.write_plain(tmp_path)
    path.with_suffix(".prj").write_text(text)
    with pytest.raises(VrxError, match=r"its \.prj is empty"):
        read_layer(path)
