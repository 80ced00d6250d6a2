"""What a TIFF states of its size is read before a library gets the file, as that library reads it."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from support_cases import FRAME
from support_formats import NORTH_UP, write_packed_raster, write_raster, write_raster_of_rates

from vrx.errors import InputError
from vrx.inputs import raster
from vrx.inputs.tiff_head import TiffHead, tiff_head


@pytest.mark.parametrize(
    ("options", "block_bytes"),
    [
        pytest.param({}, 42 * 25 * 4, id="strips"),
        pytest.param({"BIGTIFF": "YES"}, 42 * 25 * 4, id="large form"),
        pytest.param({"ENDIANNESS": "BIG"}, 42 * 25 * 4, id="big-endian"),
        pytest.param({"BIGTIFF": "YES", "ENDIANNESS": "BIG"}, 42 * 25 * 4, id="large form, big-endian"),
        pytest.param({"tiled": True, "blockxsize": 32, "blockysize": 16}, 32 * 16 * 4, id="tiles"),
        pytest.param({"blockysize": 5}, 42 * 5 * 4, id="strips of five rows"),
    ],
)
def test_sizes_are_those_of_the_library(options: dict[str, Any], block_bytes: int, tmp_path: Path) -> None:
    """42 by 25 cells of four bytes, in tiles or strips, of either byte order and form."""
    path = write_raster(tmp_path / "rates.tif", np.ones((25, 42), dtype=np.float32), **options)
    with rasterio.open(path) as opened:
        assert (opened.width, opened.height) == (42, 25)
        rows, columns = opened.block_shapes[0]
        assert rows * columns * 4 == block_bytes
    assert tiff_head(path.read_bytes()) == TiffHead(width=42, height=25, block_bytes=block_bytes)


def test_samples_beside_each_other_count(tmp_path: Path) -> None:
    """Six bands in one tile make it six times as large: their bits stand elsewhere in the file."""
    path = write_raster(tmp_path / "six.tif", np.ones((6, 25, 42), dtype=np.uint16), interleave="pixel", blockysize=25)
    found = tiff_head(path.read_bytes())
    assert found is not None
    assert found.block_bytes == 42 * 25 * 2 * 6


@pytest.mark.parametrize("write", [write_raster_of_rates, write_packed_raster])
def test_damage_gives_no_size_and_no_error(write: Any, tmp_path: Path) -> None:
    """Cut at every byte, or with a directory beyond the end: nothing is known, and the library says what is wrong."""
    whole = write(tmp_path).read_bytes()
    assert tiff_head(whole) is not None
    for length in range(min(len(whole), 600)):
        tiff_head(whole[:length])
    assert tiff_head(whole[:8]) is None
    assert tiff_head(whole[:4] + struct.pack("<I", 2**32 - 1) + whole[8:]) is None
    assert tiff_head(b"GIF89a") is None


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        pytest.param({"width": 100_000, "height": 100_000, "tiled": True}, "25 million", id="cells"),
        pytest.param(
            {"width": 100, "height": 100, "tiled": True, "blockxsize": 16_384, "blockysize": 16_384}, "tiles", id="tile"
        ),
    ],
)
def test_a_raster_too_large_never_gets_to_the_library(
    shape: dict[str, Any], words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its header alone is read."""
    path = tmp_path / "large.tif"
    place = rasterio.Affine(*NORTH_UP)
    options = {"driver": "GTiff", "crs": FRAME, "transform": place, "count": 1, "dtype": "float64"}
    with rasterio.open(path, "w", sparse_ok=True, compress="deflate", **options, **shape):
        pass

    def never(*_: Any, **__: Any) -> None:
        pytest.fail("the library got the file")

    monkeypatch.setattr(raster, "opened_geotiff", never)
    with pytest.raises(InputError, match=words):
        raster.read_raster(path.read_bytes(), source=path.name)
