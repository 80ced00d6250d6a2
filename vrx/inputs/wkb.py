"""Shapes in well-known binary, as GeoPackage and GeoParquet hold them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.errors import InputError
from vrx.inputs.raw_layer import shape_array
from vrx.inputs.rings import Shapes
from vrx.words import some

# shapely has no curved shapes and says so by NotImplementedError
_UNREADABLE: Final = (shapely.errors.GEOSException, shapely.errors.ShapelyError, NotImplementedError)


def shapes_of_wkb(wkb: Sequence[bytes | None], records: NDArray[np.int64], *, source: str, remedy: str) -> Shapes:
    """Read shapes from well-known binary; None where a record has none.

    Parameters
    ----------
    records : int64 array, shape (n,)
        Record numbers, to name what can't be read.
    remedy : str
        What to do about a damaged file.

    Raises
    ------
    InputError
        Damaged shapes, or curved ones, with their records.
    """
    try:
        shapes = shape_array(shapely.from_wkb(list(wkb)))
        shapely.get_parts(shapes)  # arcs may hide in a collection
    except _UNREADABLE:
        raise _unreadable(wkb, records, source, remedy) from None
    return shapes


def _unreadable(wkb: Sequence[bytes | None], records: NDArray[np.int64], source: str, remedy: str) -> InputError:
    """Return the error for shapes that can't be read, which are looked for one by one."""
    curved, damaged = list[int](), list[int]()
    for one, record in zip(wkb, records.tolist(), strict=True):
        try:
            shapely.get_parts(shapely.from_wkb(one))
        except NotImplementedError:
            curved.append(record)
        except _UNREADABLE:
            damaged.append(record)
    if curved:
        return curved_shapes(curved, source)
    return InputError(f"The shape of feature {some(damaged)} can't be read.", remedy=remedy, where=source)


def curved_shapes(features: Sequence[int], source: str) -> InputError:
    """Return the error for shapes of arcs, or surfaces, which no zone or boundary is."""
    return InputError(
        f"Feature {some(features)} has a curved shape (arcs), which can't be used as it is.",
        remedy="Save it again with arcs turned into straight segments (linearised), as Polygon or MultiPolygon.",
        where=source,
    )
