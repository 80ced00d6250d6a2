"""Writing a sheet as GeoJSON.

Source: RFC 7946 (August 2016): WGS 84, longitude first (section 4), outer rings counterclockwise (3.1.6), no
``crs`` member.
"""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.errors import OutputError
from vrx.exports.rings import oriented_polygons
from vrx.geo.crs import WGS84
from vrx.model.sheet import RateColumn, Sheet, TextColumn

_DECIMALS: Final = 8  # 1e-8 degree is about a millimetre
_POINT: Final = 4  # a sign and three digits stand before it
_NUMBER_WIDTH: Final = _POINT + 1 + _DECIMALS


def write_geojson(sheet: Sheet, folder: Path) -> list[Path]:
    """Write a sheet as GeoJSON, a feature a line, and return its file.

    Coordinates are the shortest text that reads back to the same number; rates are written with all decimals.

    Raises
    ------
    OutputError
        The sheet is not in EPSG:4326, its coordinates are not on earth, cross the antimeridian or carry more than
        8 decimals, or a shape is no single polygon.
    OSError
        No room, no right to write ...
    """
    polygons = oriented_polygons(sheet, outer_clockwise=False)
    _check_places(sheet, polygons)
    properties = [*map(_members, sheet.columns), *map(_other_members, sheet.labels)]
    features = [
        f'{{"type":"Feature","properties":{{{",".join(members)}}},"geometry":{geometry}}}'
        for geometry, *members in zip(_geometries(polygons), *properties, strict=True)
    ]
    text = '{"type":"FeatureCollection","features":[\n' + ",\n".join(features) + "\n]}\n"
    path = folder / f"{sheet.name}.geojson"
    path.write_bytes(text.encode())
    return [path]


def _check_places(sheet: Sheet, polygons: NDArray[np.object_]) -> None:
    if sheet.crs != WGS84:
        raise OutputError(
            f"GeoJSON is WGS 84 (EPSG:4326) by its standard, and this map is in {sheet.crs}.",
            remedy="Lay the map out in EPSG:4326 for this format.",
            where=sheet.name,
        )
    points = shapely.get_coordinates(polygons)
    if not (np.abs(points) <= (180, 90)).all():
        raise OutputError("A coordinate is not a longitude and latitude in degrees.", where=sheet.name)
    # Dividing a whole number is rounded correctly, so that the decimal text reads back to this very double.
    if not (np.rint(points * 10**_DECIMALS) / 10**_DECIMALS == points).all():
        raise OutputError(f"A coordinate carries more than {_DECIMALS} decimals.", where=sheet.name)
    boxes = shapely.bounds(polygons)
    if (boxes[:, 2] - boxes[:, 0] > 180).any():
        raise OutputError(
            "A polygon crosses the antimeridian (180 degrees).",
            remedy="Divide the field there: GeoJSON has no polygons across it.",
            where=sheet.name,
        )


def _members(column: RateColumn) -> list[str]:
    name = json.dumps(column.name, ensure_ascii=False)
    return [f"{name}:{column.rate_text(at)}" for at in range(len(column.counts))]


def _other_members(column: TextColumn) -> list[str]:
    name = json.dumps(column.name, ensure_ascii=False)
    text = str if column.kind == "number" else _string
    return [f"{name}:{'null' if cell is None else text(cell)}" for cell in column.cells]


def _string(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _geometries(polygons: NDArray[np.object_]) -> list[str]:
    if not len(polygons):
        return []
    _, points, (rings, owners) = shapely.to_ragged_array(polygons, include_z=False)
    text, ends = _points_text(points)
    texts = [text[ends[first] : ends[last] - 1] for first, last in pairwise(rings.tolist())]
    return [
        f'{{"type":"Polygon","coordinates":[{",".join(f"[{ring}]" for ring in texts[first:last])}]}}'
        for first, last in pairwise(owners.tolist())
    ]


def _points_text(points: NDArray[np.float64]) -> tuple[str, list[int]]:
    """Write points as ``[x,y],`` one behind the other.

    All at once, digit by digit as whole numbers of the last decimal: a float's own text costs three times as much,
    and the geometry library's is not always the shortest.

    Returns
    -------
    str
    list of int, length n_points + 1
        Where each point begins, and the end.
    """
    width = _NUMBER_WIDTH
    # Columns are filled one at a time, so each lies in one piece.
    text = np.empty((len(points), 2 * width + 4), dtype=np.uint8, order="F")
    keep = np.ones(text.shape, dtype=bool, order="F")
    for column, mark in ((0, "["), (width + 1, ","), (2 * width + 2, "]"), (2 * width + 3, ",")):
        text[:, column] = ord(mark)
    for axis, column in ((0, 1), (1, width + 2)):
        numbers = slice(column, column + width)
        _write_numbers(points[:, axis], text[:, numbers], keep[:, numbers])
    ends = [0, *np.cumsum(np.count_nonzero(keep, axis=1)).tolist()]
    return text[keep].tobytes().decode("ascii"), ends


def _write_numbers(numbers: NDArray[np.float64], text: NDArray[np.uint8], keep: NDArray[np.bool_]) -> None:
    """Fill rows with ``-ddd.dddddddd`` and tell which characters count: no zeros that a number does not need."""
    zero = ord("0")
    counts = np.rint(np.abs(numbers) * 10**_DECIMALS).astype(np.int64)
    text[:, 0] = ord("-")
    keep[:, 0] = numbers < 0
    whole, part = (each.astype(np.uint32) for each in np.divmod(counts, 10**_DECIMALS))
    for column in range(_POINT - 1, 0, -1):
        whole, digit = np.divmod(whole, np.uint32(10))
        text[:, column] = zero + digit
    text[:, _POINT] = ord(".")
    for column in range(_NUMBER_WIDTH - 1, _POINT, -1):
        part, digit = np.divmod(part, np.uint32(10))
        text[:, column] = zero + digit
    used = text != zero
    keep[:, 1] = used[:, 1]
    keep[:, 2] = used[:, 1] | used[:, 2]
    keep[:, -1] = used[:, -1]
    for column in range(_NUMBER_WIDTH - 2, _POINT + 1, -1):
        keep[:, column] = keep[:, column + 1] | used[:, column]
