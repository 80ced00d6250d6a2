"""What ``vrx check --json`` prints: plain values, ready for a JSON writer."""

from __future__ import annotations

import numpy as np
import shapely

from vrx.geo.area import true_areas
from vrx.geo.crs import short_name
from vrx.model.check import Check
from vrx.model.checked_map import CheckedMap, MapShapes
from vrx.reports.as_json import finding_json


def check_json(check: Check) -> dict[str, object]:
    """Return a check: verdict, map, product, findings, and what was not looked at."""
    on = check.on
    return {
        "verdict": check.verdict,
        "map": _map(on),
        "product": on.product.name if on.product is not None else on.product_asked or None,
        "findings": [finding_json(one) for one in check.findings],
        "not_checked": [{"id": one.id, "why": one.why} for one in check.not_checked],
    }


def _map(on: CheckedMap) -> dict[str, object]:
    rates = on.rates
    return {
        "name": on.source.name,
        "features": None if on.layer is None else len(on.layer.records),
        "crs": None if on.layer is None else short_name(on.layer.crs),
        "column": None if rates is None else rates.column,
        "column_from": None if rates is None else rates.column_how,
        "unit": None if rates is None else rates.unit_name or None,
        "unit_from": None if rates is None else rates.unit_how,
        "geodesic_area_m2": None if on.shapes is None else on.shapes.covered_m2,
        "rates": _rates(on),
    }


def _rates(on: CheckedMap) -> list[dict[str, float | None]]:
    """Return the ground of each rate, the lowest first, and that without a rate last."""
    if on.rates is None or on.shapes is None:
        return []
    numbers = on.rates.numbers.values
    known = np.isfinite(numbers)
    found: list[dict[str, float | None]] = [
        {"rate": float(rate), "area_m2": _ground(on.shapes, np.flatnonzero(known & (numbers == rate)))}
        for rate in np.unique(numbers[known])
    ]
    if not known.all():
        found.append({"rate": None, "area_m2": _ground(on.shapes, np.flatnonzero(~known))})
    return found


def _ground(shapes: MapShapes, at: np.ndarray[tuple[int], np.dtype[np.int64]]) -> float:
    """Return the true area of some records together, each square metre once."""
    mine = set(at.tolist())
    if any(one.first in mine and one.second in mine for one in shapes.overlaps):
        whole = shapely.union_all(shapes.shapes[at])
        return float(true_areas(np.array([whole], dtype=object), shapes.frame)[0])
    return float(shapes.area_m2[at].sum())
