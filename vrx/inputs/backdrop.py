"""A backdrop for maps: a GeoTIFF as a grey picture, or a layer as outlines, in the field's own frame."""

from __future__ import annotations

import base64
import io
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.errors import InputError
from vrx.geo.crs import move_shapes
from vrx.inputs.files import read_bytes
from vrx.inputs.geotiff import opened_geotiff
from vrx.inputs.read import read_layer
from vrx.model.content import Backdrop
from vrx.model.zone_map import Frame

_PICTURES = (".tif", ".tiff")
_PICTURE = "Give a GeoTIFF with one band, or with red, green and blue."
_MOST_PIXELS = 900
# Grey values below and above these shares are drawn black and white: a few bright roofs would darken all else.
_STRETCH = (2, 98)
_DECIMALS = 1

Box = tuple[float, float, float, float]


def read_backdrop(path: Path, *, frame: Frame, around: Box) -> Backdrop:
    """Read what lies within a box of the field's frame.

    Parameters
    ----------
    path : Path
        A GeoTIFF with one band or with red, green and blue, or any layer that :func:`read_layer` reads.
    around : tuple of float
        West, south, east and north in local metres.

    Raises
    ------
    VrxError
        It is missing, damaged, says no CRS, or shows nothing of the field.
    """
    if path.suffix.lower() not in _PICTURES:
        return _outlines(path, frame, around)
    picture = _grey(path, frame, around)
    west, south, east, north = around
    return Backdrop(name=path.name, png=picture, west=west, south=south, east=east, north=north)


def _outlines(path: Path, frame: Frame, around: Box) -> Backdrop:
    layer = read_layer(path)
    shapes = move_shapes(layer.shapes[~shapely.is_missing(layer.shapes)], layer.crs, frame.crs)
    lines = [shape if shapely.get_dimensions(shape) == 1 else shapely.boundary(shape) for shape in shapes]
    shown = shapely.union_all(shapely.clip_by_rect(np.array(lines, dtype=object), *around))
    parts = [part for part in shapely.get_parts(shown) if shapely.get_dimensions(part) == 1]
    if not parts:
        raise _nothing(path)
    west, south, east, north = around
    simple = shapely.simplify(shapely.multilinestrings(parts), max(east - west, north - south) / 3000)
    text = str(shapely.to_wkt(simple, rounding_precision=_DECIMALS))
    return Backdrop(name=path.name, png="", lines=text, west=west, south=south, east=east, north=north)


def _grey(path: Path, frame: Frame, around: Box) -> str:
    import rasterio  # noqa: PLC0415 - slow to load, and few maps have a picture
    from rasterio.vrt import WarpedVRT  # noqa: PLC0415

    west, south, east, north = around
    scale = _MOST_PIXELS / max(east - west, north - south)
    width, height = max(1, round((east - west) * scale)), max(1, round((north - south) * scale))
    with opened_geotiff(read_bytes(path), source=path.name, remedy=_PICTURE) as picture:
        if picture.crs is None:
            raise InputError("The picture does not say its CRS.", remedy="Save it as a GeoTIFF.", where=path.name)
        step_x, step_y = (east - west) / width, (north - south) / height
        with WarpedVRT(
            picture,
            crs=frame.crs,
            transform=rasterio.Affine(step_x, 0.0, west, 0.0, -step_y, north),
            width=width,
            height=height,
            resampling=rasterio.enums.Resampling.bilinear,
            add_alpha=picture.nodata is None and picture.count not in (2, 4),
        ) as warped:
            bands = warped.read([1, 2, 3] if picture.count >= 3 else [1]).astype(np.float64)
            there = warped.dataset_mask() > 0
    # Source of the weights: ITU-R BT.709, luma of linear red, green and blue.
    grey = np.tensordot([0.2126, 0.7152, 0.0722], bands, axes=1) if len(bands) == 3 else bands[0]
    there &= np.isfinite(grey)
    if not there.any():
        raise _nothing(path)
    return base64.b64encode(_png(grey, there)).decode("ascii")


def _png(grey: NDArray[np.float64], there: NDArray[np.bool_]) -> bytes:
    from PIL import Image  # noqa: PLC0415

    low, high = np.percentile(grey[there], _STRETCH)
    with np.errstate(invalid="ignore"):
        stretched = np.clip((grey - low) / (high - low or 1.0), 0, 1) * 255
    pixels: NDArray[Any] = np.where(there, stretched, 255).round().astype(np.uint8)
    file = io.BytesIO()
    Image.fromarray(pixels, mode="L").save(file, format="PNG", optimize=True)
    return file.getvalue()


def _nothing(path: Path) -> InputError:
    return InputError(
        "The backdrop shows nothing of this field.", remedy="Check its CRS and its extent.", where=path.name
    )
