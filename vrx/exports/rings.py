"""The polygons of a sheet as a format wants them: flat, single, and wound one way."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.errors import OutputError
from vrx.model.sheet import Sheet


def oriented_polygons(sheet: Sheet, *, outer_clockwise: bool) -> NDArray[np.object_]:
    """Return the polygons of a sheet without heights, outer rings wound as said and holes the other way.

    Raises
    ------
    OutputError
        A shape is not a single polygon, is empty or has a coordinate that is not finite; a column has not one rate
        or cell a shape; two columns differ by case at most.
    """
    shapes = np.asarray(sheet.shapes, dtype=object)
    single = shapely.get_type_id(shapes) == shapely.GeometryType.POLYGON
    if not single.all():
        raise _refused(sheet, single, "is not a single polygon")
    filled = ~shapely.is_empty(shapes)
    if not filled.all():
        raise _refused(sheet, filled, "is empty")
    points, owners = shapely.get_coordinates(shapes, return_index=True)
    if not np.isfinite(points).all():
        sound = np.ones(len(shapes), dtype=bool)
        sound[owners[~np.isfinite(points).all(axis=1)]] = False
        raise _refused(sheet, sound, "has a coordinate that is not a finite number")
    for column in sheet.columns:
        if len(column.counts) != len(shapes):
            raise OutputError(
                f"Column {column.name} has {len(column.counts)} rates for {len(shapes)} polygons.", where=sheet.name
            )
    for label in sheet.labels:
        if len(label.cells) != len(shapes):
            raise OutputError(
                f"Column {label.name} has {len(label.cells)} cells for {len(shapes)} polygons.", where=sheet.name
            )
    names = [*(column.name.lower() for column in sheet.columns), *(label.name.lower() for label in sheet.labels)]
    if len(set(names)) < len(names):
        raise OutputError("Two columns bear one name.", remedy="Name each column once.", where=sheet.name)
    polygons: NDArray[np.object_] = shapely.orient_polygons(shapely.force_2d(shapes), exterior_cw=outer_clockwise)
    return polygons


def _refused(sheet: Sheet, good: NDArray[np.bool_], what: str) -> OutputError:
    at = int(np.flatnonzero(~good)[0])
    return OutputError(f"Shape {at + 1} {what}; a map holds single, finite polygons only.", where=sheet.name)
