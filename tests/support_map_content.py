"""Contents with maps that are hard to letter: many sizes and shapes of zones, in a coverage without gaps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import shapely
from support_html_content import content, rates

from vrx.model.content import Content, Patch


def cell_map(
    points: Sequence[tuple[float, float]], given: Sequence[str], *, width: float, height: float, **changes: Any
) -> Content:
    """Return a field of cells, each a zone with the next of some rates."""
    outline = shapely.box(0, 0, width, height)
    shapes = shapely.intersection(
        shapely.get_parts(shapely.voronoi_polygons(shapely.multipoints(points), extend_to=outline, ordered=True)),
        outline,
        grid_size=0.01,
    )
    shapes = [shape for shape in shapes if shape.geom_type == "Polygon" and shape.area > 0]
    product = rates("Seed", [given[at % len(given)] for at in range(len(shapes))])
    patches = tuple(Patch(row=at, shape=shape.wkt) for at, shape in enumerate(shapes))
    return content(replace(product, patches=patches), size=(width, height), **changes)


def scattered(count: int, seed: int) -> list[tuple[float, float]]:
    """Return points in a field of 800 by 600 metres, half of them close together in a corner."""
    random = np.random.default_rng(seed)
    wide = random.uniform((0, 0), (800, 600), (count - count // 2, 2))
    close = random.uniform((0, 0), (120, 90), (count // 2, 2))
    return [(float(x), float(y)) for x, y in np.concatenate((wide, close))]
