"""Small sheets for tests: polygons and rates in a line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from shapely import Polygon

from vrx.model.sheet import RateColumn, Sheet

# A hand of squares of 0.001 degree beside each other, in a bay of our own.
SQUARES = tuple(shapely.box(20.5 + 0.001 * at, -33.25, 20.501 + 0.001 * at, -33.249) for at in range(5))
HOLED = Polygon(
    [(20.5, -33.25), (20.5, -33.24), (20.51, -33.24), (20.51, -33.25)],
    [[(20.502, -33.248), (20.504, -33.248), (20.504, -33.246), (20.502, -33.246)]],
)


def column_of(
    counts: Sequence[int], decimals: int = 1, *, name: str = "RATE", product: str = "Lime", unit: str = "kg/ha"
) -> RateColumn:
    """Make a column from whole multiples of its last decimal; the step is one of them."""
    numbers = np.array(counts, dtype=np.int64)
    return RateColumn(name=name, product=product, unit=unit, counts=numbers, decimals=decimals, step_numbers=numbers)


def sheet_of(
    shapes: Sequence[Polygon] = SQUARES,
    counts: Sequence[int] | Mapping[str, Sequence[int]] | None = None,
    *,
    decimals: int = 1,
    name: str = "vlei_2027_lime_k7mq",
    crs: str = "EPSG:4326",
    date: str = "2027-04-12",
    description: str = "Lime, kg/ha, Vlei, 2027",
    coordinate_decimals: int = 8,
) -> Sheet:
    """Make a sheet; counts by column name make several columns, and none make 185, 190, 195 ..."""
    if counts is None:
        counts = [185 + 5 * at for at in range(len(shapes))]
    by_name = counts if isinstance(counts, Mapping) else {"RATE": counts}
    array = np.empty(len(shapes), dtype=object)
    array[:] = list(shapes)
    return Sheet(
        name=name,
        crs=crs,
        shapes=shapely.transform(array, lambda points: np.round(points, coordinate_decimals)),
        columns=tuple(column_of(each, decimals, name=key, product=key.title()) for key, each in by_name.items()),
        date=date,
        description=description,
    )


def jagged(n_shapes: int, n_vertices: int, *, seed: int = 7) -> list[Polygon]:
    """Make many star-shaped polygons with vertices that need all 8 decimals."""
    chance = np.random.default_rng(seed)
    angles = np.linspace(0, 2 * np.pi, n_vertices, endpoint=False)
    made = []
    for at in range(n_shapes):
        radius = 0.0004 * (1 + 0.2 * chance.random(n_vertices))
        centre = np.array([20.5 + 0.001 * (at % 50), -33.25 + 0.001 * (at // 50)])
        made.append(Polygon(centre + radius[:, None] * np.column_stack((np.cos(angles), np.sin(angles)))))
    return made
