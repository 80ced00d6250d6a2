"""Backdrops: where they lie, what they show, and what is refused."""

from __future__ import annotations

import base64
import io
import json
from pathlib import Path

import numpy as np
import pytest
import rasterio
import shapely
from PIL import Image

from vrx.errors import InputError, VrxError
from vrx.geo.crs import frame_at, move_points
from vrx.inputs.backdrop import read_backdrop

FRAME = frame_at(-116.4414, 46.0423)
AROUND = (-300.0, -200.0, 300.0, 200.0)
UTM = "EPSG:32611"


def corner() -> tuple[float, float]:
    """Easting and northing of the frame's origin in the picture's own grid."""
    x, y = move_points(np.zeros((1, 2)), FRAME.crs, UTM)[0]
    return float(x), float(y)


def picture(path: Path, bands: np.ndarray, *, crs: str | None = UTM, nodata: float | None = None) -> Path:
    """Write a GeoTIFF of 10 m pixels, its middle at the frame's origin."""
    count, rows, columns = bands.shape
    x, y = corner()
    with rasterio.open(
        path, "w", driver="GTiff", width=columns, height=rows, count=count, dtype=bands.dtype, crs=crs, nodata=nodata,
        transform=rasterio.Affine(10, 0, x - columns * 5, 0, -10, y + rows * 5),
    ) as out:  # fmt: skip
        out.write(bands)
    return path


def grey_of(png: str) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(base64.b64decode(png))))


def test_a_picture_lies_where_its_grid_says(tmp_path: Path) -> None:
    """West of the frame's origin it is dark, east of it light: so it is drawn, to a pixel or two."""
    bands = np.full((1, 100, 100), 20, dtype=np.uint8)
    bands[:, :, 50:] = 220
    found = read_backdrop(picture(tmp_path / "air.tif", bands), frame=FRAME, around=AROUND)
    assert (found.west, found.south, found.east, found.north) == AROUND
    grey = grey_of(found.png)
    assert grey.shape == (600, 900)
    assert (grey[:, :440] == 0).all()
    assert (grey[:, 460:] == 255).all()


def test_red_green_and_blue_become_grey_by_the_weights_of_the_standard(tmp_path: Path) -> None:
    """Green is lighter than red, and red than blue. Source: ITU-R BT.709."""
    bands = np.zeros((3, 90, 90), dtype=np.uint8)
    for band in range(3):
        bands[band, :, band * 30 : band * 30 + 30] = 200
    grey = grey_of(read_backdrop(picture(tmp_path / "rgb.tif", bands), frame=FRAME, around=AROUND).png)
    red, green, blue = (grey[300, at] for at in (100, 450, 800))
    assert green > red > blue


def test_ground_without_a_pixel_is_white(tmp_path: Path) -> None:
    """Beyond the picture, and where it has no data."""
    bands = np.full((1, 10, 10), 50.0, dtype=np.float32)
    bands[0, :, :5] = -9999
    bands[0, 0, 9] = 0
    grey = grey_of(read_backdrop(picture(tmp_path / "f.tif", bands, nodata=-9999), frame=FRAME, around=AROUND).png)
    assert grey[300, 300:440].min() == 255  # no data
    assert grey[300, 800] == 255  # beyond
    assert grey[10, 450] == 255


def test_outlines_of_a_layer_are_clipped_to_the_box(tmp_path: Path) -> None:
    """A soil map that reaches far beyond the field shows its borders within it."""
    west, east = move_points(np.array([[-5000.0, 0.0], [5000.0, 0.0]]), FRAME.crs, "EPSG:4326")[:, 0]
    ring = [[west, 46.0], [0.5 * (west + east), 46.0], [0.5 * (west + east), 46.1], [west, 46.1], [west, 46.0]]
    feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    (tmp_path / "soil.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    found = read_backdrop(tmp_path / "soil.geojson", frame=FRAME, around=AROUND)
    assert found.png == ""
    lines = shapely.from_wkt(found.lines)
    assert lines.bounds[1] == pytest.approx(-200, abs=0.1)
    assert lines.bounds[3] == pytest.approx(200, abs=0.1)
    assert shapely.length(lines) == pytest.approx(400, abs=1)


def test_the_same_picture_gives_the_same_bytes(tmp_path: Path) -> None:
    """So that a build's report does not change from one day to the next."""
    rng = np.random.default_rng(5)
    path = picture(tmp_path / "air.tif", rng.integers(0, 255, (3, 60, 60), dtype=np.uint8))
    assert read_backdrop(path, frame=FRAME, around=AROUND) == read_backdrop(path, frame=FRAME, around=AROUND)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        pytest.param(lambda path: None, "no such file", id="missing"),
        pytest.param(lambda path: path.write_bytes(b"II*\0 not a picture"), "can't be read", id="damaged"),
        pytest.param(lambda path: path.write_bytes(b""), "is empty", id="empty"),
        pytest.param(
            lambda path: picture(path, np.zeros((1, 9, 9), dtype=np.uint8), crs=None), "does not say", id="no CRS"
        ),
        pytest.param(
            lambda path: picture(path, np.zeros((1, 9, 9), dtype=np.uint8), crs="EPSG:32633"), "nothing of this field",
            id="elsewhere",
        ),
    ],
)  # fmt: skip
def test_what_can_not_be_drawn_is_refused_in_words(tmp_path: Path, make: object, words: str) -> None:
    """What, where, and what would be accepted."""
    make(tmp_path / "air.tif")  # type: ignore[operator]  # one of the functions above
    with pytest.raises(VrxError) as err:
        read_backdrop(tmp_path / "air.tif", frame=FRAME, around=AROUND)
    (one,) = err.value.each
    assert words in one.problem
    assert one.remedy
    assert one.where.endswith("air.tif")
    assert isinstance(one, InputError)
