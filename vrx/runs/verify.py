"""Reading back what was written, and comparing it with what was meant."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.errors import OutputError
from vrx.geo.area import true_areas
from vrx.geo.crs import move_shapes
from vrx.inputs.cells import read_numbers
from vrx.inputs.read import read_layer
from vrx.model.layer import Layer
from vrx.model.sheet import Sheet
from vrx.model.zone_map import Frame

_AREA_SHARE = 2e-6
_ROUNDING_M = 1e-3


def verify_file(
    path: Path, sheet: Sheet, area_m2: NDArray[np.float64], source: NDArray[np.int64], frame: Frame
) -> None:
    """Read a written map and compare it with its sheet.

    Parameters
    ----------
    area_m2 : float64 array
        True areas of the sheet's polygons before rounding.
    source : int64 array, shape (n_shapes,)
        Which of those each shape comes from.

    Raises
    ------
    OutputError
        The number of shapes, a rate, the fit of neighbours or an area differs.
    """
    layer = read_layer(path)
    if len(layer.shapes) != len(sheet.shapes):
        raise _differs(path, f"{len(sheet.shapes)} polygons were written and {len(layer.shapes)} are there")
    _same_rates(path, layer, sheet)
    shapes = move_shapes(layer.shapes, layer.crs, frame.crs)
    if not shapely.is_valid(layer.shapes).all() or not shapely.coverage_is_valid(layer.shapes):
        raise _differs(path, "the polygons no longer fit together")
    count = len(area_m2)
    found = np.bincount(source, weights=true_areas(shapes, frame), minlength=count)
    around = np.bincount(source, weights=shapely.length(shapes), minlength=count)
    allowed = np.maximum(_AREA_SHARE * area_m2, np.maximum(around, 1.0) * _ROUNDING_M)
    wrong = np.flatnonzero(~(np.abs(found - area_m2) <= allowed))
    if len(wrong):
        at = int(wrong[0])
        raise _differs(path, f"a polygon of {area_m2[at]:.3f} m2 came back with {found[at]:.3f} m2")


def _same_rates(path: Path, layer: Layer, sheet: Sheet) -> None:
    for column in sheet.columns:
        if column.name not in layer.columns:
            raise _differs(path, f"the column {column.name} is not there")
        values = read_numbers(layer.columns[column.name]).values * 10.0**column.decimals
        # NaN, where a cell could not be read, is never within half a digit.
        wrong = np.flatnonzero(~(np.abs(values - column.counts) < 0.5))
        if len(wrong):
            at = int(wrong[0])
            cell = layer.columns[column.name].cells[at]
            raise _differs(path, f"rate {column.rate_text(at)} {column.unit} came back as {cell!r}")


def _differs(path: Path, what: str) -> OutputError:
    return OutputError(
        f"{path.name} did not come back as it was written: {what}.",
        remedy="Nothing was put in place. Check the disk, and report this with the plan if it stays.",
    )
