"""The map states areas that were measured on a flat sheet which is not true to area.

Why it matters: web maps draw ground at 45 degrees of latitude twice as large as it is. Who orders
by that column orders twice as much.

How to put it right: go by the true areas; have the column worked out again on the ground, or left
out.

Source: true areas on the WGS 84 ellipsoid, Karney2013.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import size_text
from vrx.geo.crs import parse_crs
from vrx.model.checked_map import CheckedMap
from vrx.units import ACRE_M2, FOOT_M, HECTARE_M2, SURVEY_ACRE_M2
from vrx.words import visible

_FITS: Final = 0.002
_APART: Final = 0.005
_UNITS_M2: Final = (1.0, float(HECTARE_M2), float(ACRE_M2), float(SURVEY_ACRE_M2), float(FOOT_M**2))


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    if not on.stated_areas:
        return
    layer, true = on.the_layer, on.the_shapes.area_m2
    crs = parse_crs(layer.crs)
    if not crs.is_projected:
        return
    metres = float(crs.axis_info[0].unit_conversion_factor or 1.0)
    flat = shapely.area(layer.shapes) * metres**2
    for name, values in on.stated_areas.items():
        there = np.isfinite(values) & (values > 0) & (true > 0) & (np.nan_to_num(flat) > 0)
        if not there.any():
            continue
        unit = _unit(values[there], flat[there], metres)
        total, true_total = float(values[there].sum() * unit), float(true[there].sum())
        if unit and abs(total / true_total - 1) > _APART:
            yield Seen(
                message=(
                    f"Column {visible(name)} states {size_text(total, on)} in all, as measured on the flat sheet of "
                    f"{crs.name}. True ground are {size_text(true_total, on)}: the column is {total / true_total:.4g} "
                    "times that."
                ),
                remedy="Go by the true areas; have the column worked out again, or left out.",
            )


def _unit(values: NDArray[np.float64], flat_m2: NDArray[np.float64], metres: float) -> float:
    """Return the unit in m2 in which values are areas on the sheet; 0 where they are in none."""
    for unit in (metres**2, *_UNITS_M2):
        # A few records may be drawn anew since; a sheet's own scale is what nearly all of them tell.
        if abs(np.median(values * unit / flat_m2) - 1) <= _FITS and (
            np.mean(np.abs(values * unit / flat_m2 - 1) <= _FITS) >= 0.9
        ):
            return unit
    return 0.0


RULE = Rule(id="area-distorted", looks_at="amounts", needs=("layer", "shapes"), look=look)
