"""Bytes of a written Shapefile against the ESRI Shapefile Technical Description (J-7855, July 1998).

The layout is known from library documentation that quotes the description, not from its pages.
"""

from __future__ import annotations

import struct
from itertools import pairwise
from pathlib import Path

import pytest
import shapely
from support_sheets import HOLED, sheet_of

from vrx.exports.shapefile import write_shapefile

pytestmark = pytest.mark.source("ESRI Shapefile Technical Description (J-7855, July 1998)", "main file, index file")


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
