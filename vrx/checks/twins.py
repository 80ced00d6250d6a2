"""Records with one and the same shape."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from vrx.model.checked_map import CheckedMap

# Two shapes whose vertices differ by less are drawn alike.
_DECIMALS = 2


def twins(on: CheckedMap) -> list[list[int]]:
    """Return groups of records that have the same shape, each in the file's order."""
    shapes = on.the_shapes.shapes
    # Only shapes that overlap can be the same.
    asked = sorted({at for one in on.the_shapes.overlaps for at in (one.first, one.second)})
    if not asked:
        return []
    rounded = shapely.transform(shapes[asked], lambda points: np.round(points, _DECIMALS) + 0.0)
    groups: dict[bytes, list[int]] = {}
    for at, text in zip(asked, shapely.to_wkb(shapely.normalize(rounded)), strict=True):
        groups.setdefault(text, []).append(at)
    return [group for group in groups.values() if len(group) > 1]


def differ(records: Sequence[int], on: CheckedMap) -> bool:
    """Tell whether a display would have to choose between records; what holds no rate differs from what does."""
    if on.rates is None:
        return True
    rates = on.rates.rates[list(records)]
    return not (bool((rates == rates[0]).all()) or bool(np.isnan(rates).all()))
