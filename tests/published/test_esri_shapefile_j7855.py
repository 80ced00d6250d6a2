"""Bytes of a Shapefile, written and read, against the ESRI Shapefile Technical Description (J-7855, July 1998).

The layout is known from documentation of two libraries that quotes the description, not from its pages.
"""

from __future__ import annotations

import struct
from itertools import pairwise
from pathlib import Path

import pytest
import shapely
import support_cases as cases
from support_sheets import HOLED, sheet_of

from vrx.errors import InputError
from vrx.exports.shapefile import write_shapefile
from vrx.inputs.read import read_layer
from vrx.inputs.shapefile import read_shapefile

pytestmark = pytest.mark.source("J-7855", "main file, index file, table")

# --- what is written


@pytest.fixture
def square(tmp_path: Path) -> dict[str, bytes]:
    """The files of one square of 1 degree: one ring of five points."""
    paths = write_shapefile(sheet_of([shapely.box(20, -34, 21, -33)], [185]), tmp_path)
    return {path.suffix: path.read_bytes() for path in paths}


def test_the_header_has_its_100_bytes(square: dict[str, bytes]) -> None:
    """File code 9994 and length big-endian, version 1000, type 5 and the box little-endian, Z and M ranges 0."""
    for ending in (".shp", ".shx"):
        content = square[ending]
        assert struct.unpack(">i", content[:4]) == (9994,)
        assert content[4:24] == bytes(20)
        assert struct.unpack(">i", content[24:28]) == (len(content) // 2,)
        assert struct.unpack("<2i", content[28:36]) == (1000, 5)
        assert struct.unpack("<8d", content[36:100]) == (20, -34, 21, -33, 0, 0, 0, 0)


def test_one_square_makes_236_bytes_and_says_118_words(square: dict[str, bytes]) -> None:
    """100 of header, 8 of record header, 4 + 32 + 4 + 4 + 4 + 80 of content: 64 words (arithmetic, computed)."""
    content = square[".shp"]
    assert len(content) == 236
    assert struct.unpack(">i", content[24:28]) == (118,)
    assert struct.unpack(">2i", content[100:108]) == (1, 64)
    assert len(square[".shx"]) == 108
    assert struct.unpack(">2i", square[".shx"][100:108]) == (50, 64)


def test_a_polygon_record_has_box_parts_and_points(square: dict[str, bytes]) -> None:
    """Type 5, box, one part, five points, part 0 at point 0, then x and y: closed and clockwise."""
    record = square[".shp"][108:]
    assert struct.unpack("<i4d3i", record[:48]) == (5, 20, -34, 21, -33, 1, 5, 0)
    numbers = struct.unpack("<10d", record[48:])
    points = list(zip(numbers[::2], numbers[1::2], strict=True))
    assert points[0] == points[-1]
    assert set(points) == {(20, -34), (20, -33), (21, -33), (21, -34)}
    # Ring (0,0)(1,0)(1,1)(0,1)(0,0) has the signed area +1: counterclockwise, to be reversed for a Shapefile.
    assert sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairwise(points)) / 2 == -1


def test_the_index_leads_to_every_record(tmp_path: Path) -> None:
    """Offset and length of the index are those of the main file; records are numbered from 1."""
    shp, shx = (
        path.read_bytes() for path in write_shapefile(sheet_of([HOLED, *[shapely.box(0, 0, 1, 1)] * 2]), tmp_path)[:2]
    )
    index = list(struct.iter_unpack(">2i", shx[100:]))
    at = 100
    for number, (offset, words) in enumerate(index, start=1):
        assert offset * 2 == at
        assert struct.unpack(">2i", shp[at : at + 8]) == (number, words)
        at += 8 + 2 * words
    assert at == len(shp)
    assert struct.unpack("<2i", shp[108 + 36 : 108 + 44]) == (2, 10)  # outer ring and hole in one record
    assert struct.unpack("<2i", shp[108 + 44 : 108 + 52]) == (0, 5)


def test_the_table_has_the_dbase_iii_layout(square: dict[str, bytes]) -> None:
    """Version 3, date, counts and lengths, one field of 32 bytes, CR, the record, and 0x1A.

    Layout of the dBASE III table: from memory; names of at most 10 characters in a slot of 11 bytes.
    """
    dbf = square[".dbf"]
    assert dbf[:4] == bytes([3, 127, 4, 12])  # 2027-04-12
    assert struct.unpack("<I2H", dbf[4:12]) == (1, 65, 5)
    assert dbf[32:43] == b"RATE\0\0\0\0\0\0\0"
    assert dbf[43:44] == b"N"
    assert tuple(dbf[48:50]) == (4, 1)
    assert dbf[64:] == b"\r 18.5\x1a"


# --- what is read, and what the generator of cases writes

# The description's own sizes: header 100 bytes, record header 8, a polygon of one ring and five points
# 4 + 32 + 4 + 4 + 4 + 80 = 128 bytes = 64 words, so that the file has 236 bytes = 118 words.
SHELL = cases.rectangle(0, 0, 10, 10, clockwise=True)
HOLE = cases.rectangle(2, 2, 4, 4)


def by_hand() -> bytes:
    """A file put together field by field from the description, not by the generator."""
    header = bytearray(100)
    header[0:4] = (9994).to_bytes(4, "big")
    header[24:28] = (118).to_bytes(4, "big")
    header[28:32] = (1000).to_bytes(4, "little")
    header[32:36] = (5).to_bytes(4, "little")
    header[36:68] = struct.pack("<4d", 0, 0, 10, 10)
    record = (1).to_bytes(4, "big") + (64).to_bytes(4, "big")
    content = (5).to_bytes(4, "little") + struct.pack("<4d", 0, 0, 10, 10)
    content += (1).to_bytes(4, "little") + (5).to_bytes(4, "little") + (0).to_bytes(4, "little")
    content += struct.pack("<10d", 0, 0, 0, 10, 10, 10, 10, 0, 0, 0)
    return bytes(header) + record + content


def test_one_square_has_the_size_of_the_description() -> None:
    """236 bytes, 118 words; the reader finds its one polygon, and the generator writes the same file."""
    data = by_hand()
    assert len(data) == 236
    raw = read_shapefile({".shp": data, ".prj": b"EPSG:32614"}, source="square.shp")
    assert raw.shapes[0].equals(shapely.box(0, 0, 10, 10))
    assert cases.shp_bytes([[SHELL]])[0] == data


@pytest.mark.parametrize("words", [117, 118, 119])
def test_the_length_in_the_header_is_in_words_of_two_bytes(words: int) -> None:
    """A file that is a word shorter than its header says is cut short; one that is longer has its record whole."""
    data = bytearray(by_hand())
    data[24:28] = words.to_bytes(4, "big")
    parts = {".shp": bytes(data), ".prj": b"EPSG:32614"}
    if words > 118:
        with pytest.raises(InputError, match="cut short"):
            read_shapefile(parts, source="square.shp")
    else:
        assert read_shapefile(parts, source="square.shp").shapes[0].area == 100


def test_outer_rings_run_clockwise_and_holes_against_it(tmp_path: Path) -> None:
    """A file wound as the description says is silent; its hole is cut out."""
    assert shapely.is_ccw(shapely.linearrings([SHELL, HOLE])).tolist() == [False, True]
    path = cases.write_shapefile(tmp_path, "z", [[SHELL, HOLE]], [["A", "1"]], crs="EPSG:2193")
    layer = read_layer(path)
    assert layer.shapes[0].area == 96
    assert "hole-winding" not in {finding.id for finding in layer.findings}


@pytest.mark.parametrize("kind", range(-1, 34))
def test_the_types_of_the_description_are_known(kind: int) -> None:
    """All types of the description are read but the multipatch (31), and no others."""
    header = bytearray(by_hand()[:100])
    header[24:28] = (50).to_bytes(4, "big")
    header[32:36] = kind.to_bytes(4, "little", signed=True)
    parts = {".shp": bytes(header), ".prj": b"EPSG:32614"}
    if kind in {0, 1, 3, 5, 8, 11, 13, 15, 18, 21, 23, 25, 28}:
        assert len(read_shapefile(parts, source="z.shp").shapes) == 0
    else:
        with pytest.raises(InputError, match=r"type -?\d+ is not known|multipatch"):
            read_shapefile(parts, source="z.shp")
