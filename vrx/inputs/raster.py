"""A raster of rates or classes (GeoTIFF) as zones: every connected area of one value becomes a polygon.

Source of the polygons: GDALPolygonize, through rasterio. Cells that touch at a corner only are not connected.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.errors import InputError
from vrx.geo.noding import node_edges
from vrx.inputs.cells import BEYOND, NO_DATA_CODES, cell_text, short_number
from vrx.inputs.crs_text import declared_crs
from vrx.inputs.geotiff import opened_geotiff
from vrx.inputs.raw_layer import RawLayer, shape_array
from vrx.inputs.rings import Shapes
from vrx.inputs.tiff_head import tiff_head
from vrx.model.finding import Finding
from vrx.model.layer import Cell, Column
from vrx.words import some

if TYPE_CHECKING:
    from rasterio.io import DatasetReader

MOST_CELLS: Final = 25_000_000
MOST_PIECES: Final = 50_000
_MOST_BORDER: Final = 1_000_000  # sides of cells between two values: more take minutes to turn into polygons
_MOST_BLOCK_BYTES: Final = 2**28
_AGAIN: Final = "Have it saved or sent again as a GeoTIFF."
_CLASSES: Final = "Make classes of it first (a few values, areas of many cells), or give zones drawn as polygons."


def read_raster(data: bytes, band: str = "", *, source: str) -> RawLayer:
    """Read one band as zones.

    Parameters
    ----------
    data : bytes
        The whole file.
    band : str
        Which band is meant, by its number or description; needed only where there are several.
    source : str
        Its name, as people are told it.

    Returns
    -------
    RawLayer
        A record for each connected area of one value, by its first row and column, with the value as column
        ``value``: 32-bit numbers as the shortest decimals that they stand for, scale and offset applied. The
        polygons are a valid coverage: where one's corner lies on another's side, that side has a vertex there.
        Cells without data (masked, NaN) are in none, and neither are cells with a value that stands for no data,
        which is the caution ``raster-no-data``. A grid that does not run with the map's is placed by all six terms,
        with the note ``raster-rotated``.

    Raises
    ------
    InputError
        No GeoTIFF, damaged, without a place, too large, of several bands and none is meant, or with values that
        change from cell to cell.
    CrsError
        A CRS that can't be read.
    """
    _check_head(data, source)
    with opened_geotiff(data, source=source, remedy=_AGAIN) as raster:
        _check_size(raster, source)
        number = _band(raster, band, source)
        place = _place(raster, source)
        crs, found = declared_crs(raster.crs.to_wkt() if raster.crs else "", part="header", source=source)
        values = raster.read(number)
        there = raster.read_masks(number) > 0
        scale, offset = raster.scales[number - 1], raster.offsets[number - 1]
    if values.dtype.kind not in "biuf":
        raise _refused(f"Its cells are of the kind {values.dtype}, which are no rates or classes.", source)
    there, unsure = _without_codes(values, there, source)
    shapes, cells = _zones(values, there, source)
    return RawLayer(
        source=source,
        shapes=_placed(shapes, place),
        columns={"value": Column(name="value", kind="number", cells=_scaled(cells, scale, offset))},
        records=np.arange(1, len(shapes) + 1, dtype=np.int64),
        crs=crs,
        lacking="its header names none",
        mend="set its CRS in the program that made it",
        findings=(*found, *unsure, *_rotation(place, source)),
    )


def _check_head(data: bytes, source: str) -> None:
    """Look at the size that the header states, before a library gets the file; what is no TIFF is told later."""
    head = tiff_head(data)
    if head is not None:
        _check_cells(head.width, head.height, source)
        if head.block_bytes > _MOST_BLOCK_BYTES:
            raise _refused("Its tiles are larger than any raster needs.", source)


def _check_cells(width: int, height: int, source: str) -> None:
    if width * height > MOST_CELLS:
        raise InputError(
            f"It has {width} by {height} cells; {MOST_CELLS / 1e6:.0f} million are read at most.",
            remedy="Cut it to the field, or make its cells larger.",
            where=source,
        )


def _check_size(raster: DatasetReader, source: str) -> None:
    # Again, as the library has it: it may start from another image than the first one.
    _check_cells(raster.width, raster.height, source)
    sizes = (rows * columns * np.dtype(kind).itemsize for (rows, columns), kind in _blocks(raster))
    if sum(sizes) > _MOST_BLOCK_BYTES:
        raise _refused("Its tiles are larger than any raster needs.", source)


def _blocks(raster: DatasetReader) -> list[tuple[tuple[int, int], str]]:
    return list(zip(raster.block_shapes, raster.dtypes, strict=True))


def _band(raster: DatasetReader, wanted: str, source: str) -> int:
    """Return the number of the band that is meant; one that only says how clear the others are is none."""
    bands = [
        number for number, meaning in enumerate(raster.colorinterp, start=1) if getattr(meaning, "name", "") != "alpha"
    ]
    names = {number: raster.descriptions[number - 1] or "" for number in bands}
    if not wanted and len(bands) == 1:
        return bands[0]
    fits = {str(number): number for number in bands} | {f"band {number}": number for number in bands}
    named = [number for number, name in names.items() if name and name.casefold() == wanted.casefold()]
    if len(named) == 1:
        return named[0]
    if wanted.casefold() in fits:
        return fits[wanted.casefold()]
    listed = some(f"{number} {name!r}" if name else str(number) for number, name in names.items())
    problem = f"It has no band {wanted!r}; its bands are {listed}." if wanted else f"It has several bands: {listed}."
    raise InputError(
        problem, remedy='Say which one holds the rates or classes, as layer = "1" (its number or name).', where=source
    )


def _place(raster: DatasetReader, source: str) -> tuple[float, ...]:
    """Return the six terms that place a cell's corner: x = c + a column + b row, y = f + d column + e row."""
    terms = tuple(map(float, raster.transform[:6]))
    a, b, _, d, e, _ = terms
    if terms == (1.0, 0.0, 0.0, 0.0, 1.0, 0.0):
        how = "it has control points only" if raster.gcps[0] else "it has no geotransform"
        raise InputError(
            f"It does not say where its cells lie: {how}.",
            remedy="Save it as a GeoTIFF with its place in it (no world file beside it).",
            where=source,
        )
    if not all(map(math.isfinite, terms)) or not abs(a * e - b * d) > 0:
        raise _refused("The terms that place its cells give them no area.", source)
    return terms


def _rotation(place: tuple[float, ...], source: str) -> list[Finding]:
    a, b, _, d, e, _ = place
    if abs(b) <= 1e-9 * abs(a) and abs(d) <= 1e-9 * abs(e):
        return []
    message = (
        f"{source}: its grid is rotated against the map's, its rows by {math.degrees(math.atan2(d, a)):.1f} degrees; "
        "it is placed by all six terms of its geotransform."
    )
    return [Finding(id="raster-rotated", severity="note", message=message)]


def _without_codes(
    values: NDArray[Any], there: NDArray[np.bool_], source: str
) -> tuple[NDArray[np.bool_], list[Finding]]:
    """Return where there is a value, and the caution about codes for no data that the file does not declare."""
    if values.dtype.kind == "f":
        there = there & ~np.isnan(values)
    codes = (values >= BEYOND) | (values <= -BEYOND)
    for code in NO_DATA_CODES:
        codes |= values == code
    codes &= there
    if not codes.any():
        return there, []
    found, counts = np.unique(values[codes], return_counts=True)
    listed = some(
        f"{cell_text(short_number(value))} in {count} of {values.size} cells ({100 * count / values.size:.1f} %)"
        for value, count in zip(found, counts.tolist(), strict=True)
    )
    finding = Finding(
        id="raster-no-data",
        severity="caution",
        message=(
            f"{source}: {listed} looks like no data, but the file does not declare it so (nodata); these cells are "
            "left out."
        ),
        remedy="Check it, and have that value declared as nodata where the raster was made.",
    )
    return there & ~codes, [finding]


def _zones(values: NDArray[Any], there: NDArray[np.bool_], source: str) -> tuple[Shapes, list[Cell]]:
    """Return polygons in columns and rows of cells, counted from the raster's corner, and the value of each."""
    from rasterio.features import shapes as polygons_of  # noqa: PLC0415

    if not there.any():
        raise _refused("No cell of it holds a value.", source)
    # By number, since polygons are made of 32-bit values only.
    known, at = np.unique(values[there], return_inverse=True)
    numbers = np.zeros(values.shape, dtype=np.int32)
    numbers[there] = at.ravel() + 1
    border = int(sum(np.count_nonzero(np.diff(numbers, axis=axis)) for axis in (0, 1)))
    pieces: list[tuple[Any, float]] = []
    if border <= _MOST_BORDER:
        pieces = list(polygons_of(numbers, mask=there, connectivity=4))
    if border > _MOST_BORDER or len(pieces) > MOST_PIECES:
        raise InputError(
            f"Its values change from cell to cell: {len(known)} of them in {int(there.sum())} cells make more than "
            f"{MOST_PIECES} zones, and no more are read.",
            remedy=_CLASSES,
            where=source,
        )
    shapes = shape_array(shapely.geometry.shape(geometry) for geometry, _ in pieces)
    corners = np.unique(shapely.get_coordinates(shapes), axis=0)
    # Whole numbers of cells: on a side means on it exactly.
    noded = node_edges(shapes, corners, within=1e-3)
    cells = [short_number(value) if values.dtype.kind == "f" else int(value) for value in known]
    box = shapely.bounds(noded)
    order = np.lexsort((box[:, 0], box[:, 1]))
    return noded[order], [cells[int(pieces[at][1]) - 1] for at in order.tolist()]


def _placed(shapes: Shapes, place: tuple[float, ...]) -> Shapes:
    a, b, c, d, e, f = place
    placed: Shapes = shapely.transform(
        shapes, lambda at: np.column_stack((c + a * at[:, 0] + b * at[:, 1], f + d * at[:, 0] + e * at[:, 1]))
    )
    return placed


def _scaled(cells: Sequence[Cell], scale: float, offset: float) -> tuple[Cell, ...]:
    if (scale, offset) == (1.0, 0.0) or not (math.isfinite(scale) and math.isfinite(offset)):
        return tuple(cells)
    # As decimals: 123 by 0.1 is 12.3, where binary numbers give 12.3 and a rest.
    return tuple(
        float(Fraction(repr(cell)) * Fraction(repr(scale)) + Fraction(repr(offset)))
        if isinstance(cell, int | float)
        else cell
        for cell in cells
    )


def _refused(problem: str, source: str) -> InputError:
    return InputError(problem, remedy=_AGAIN, where=source)
