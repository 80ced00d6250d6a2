"""Numbers of the ESRI Shapefile Technical Description, against the reader and the generator of cases."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest
import shapely
import support_cases as cases

from vrx.inputs.read import read_layer
from vrx.inputs.shapefile import read_shapefile

pytestmark = pytest.mark.source("ESRI Shapefile Technical Description, J-7855 (July 1998)", "as two libraries quote it")

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


@pytest.mark.parametrize("words", [117, 119])
def test_the_length_in_the_header_is_in_words_of_two_bytes(words: int) -> None:
    """With a length of one word less or more, record or file are cut short."""
    data = bytearray(by_hand())
    data[24:28] = words.to_bytes(4, "big")
    if words > 118:
        with pytest.raises(Exception, match="cut short"):
            read_shapefile({".shp": bytes(data), ".prj": b"EPSG:32614"}, source="square.shp")
    else:
        raw = read_shapefile({".shp": bytes(data), ".prj": b"EPSG:32614"}, source="square.shp")
        assert raw.shapes[0].area == 100


def test_outer_rings_run_clockwise_and_holes_against_it(tmp_path: Path) -> None:
    """A file wound as the description says is silent; its hole is cut out."""
    assert shapely.is_ccw(shapely.linearrings([SHELL, HOLE])).tolist() == [False, True]
    path = cases.write_shapefile(tmp_path, "z", [[SHELL, HOLE]], [["A", "1"]], crs="EPSG:2193")
    layer = read_layer(path)
    assert layer.shapes[0].area == 96
    assert "hole-winding" not in {finding.id for finding in layer.findings}


@pytest.mark.parametrize(
    ("kind", "read"),
    [
        *((kind, True) for kind in (0, 1, 3, 5, 8, 11, 13, 15, 18, 21, 23, 25, 28)),
        *((kind, False) for kind in (31, 32, 2)),
    ],
)
def test_the_types_of_the_description_are_known(kind: int, read: bool) -> None:
    """All types of the description are read but the multipatch (31), and no others."""
    header = bytearray(by_hand()[:100])
    header[24:28] = (50).to_bytes(4, "big")
    header[32:36] = kind.to_bytes(4, "little")
    parts = {".shp": bytes(header), ".prj": b"EPSG:32614"}
    if read:
        assert len(read_shapefile(parts, source="z.shp").shapes) == 0
    else:
        with pytest.raises(Exception, match=r"type \d+ is not known|multipatch"):
            read_shapefile(parts, source="z.shp")
