"""Areas of what is drawn: only about what they are on the ground, and told so."""

from __future__ import annotations

from collections.abc import Iterable

import shapely

from vrx.model.content import ProductContent
from vrx.units import ACRE_M2, HECTARE_M2

_LEAST = 0.01


def drawn_area(product: ProductContent, patches: Iterable[int], area_unit: str) -> float:
    """Return the area of patches as they are drawn, in acres or hectares."""
    area_m2 = sum(float(shapely.area(shapely.from_wkt(product.patches[at].shape))) for at in patches)
    return area_m2 / float(ACRE_M2 if area_unit == "ac" else HECTARE_M2)


def about(area: float, sign: str = "about ") -> str:
    """Return an area that is known to a tenth of itself.

    Examples
    --------
    >>> [about(area) for area in (0.31, 12.4, 0.00004)]
    ['about 0.3', 'about 12', 'less than 0.01']
    >>> about(0.00004, "≈ ")
    '< 0.01'
    """
    if area < _LEAST:
        return f"{'< ' if sign == '≈ ' else 'less than '}{_LEAST}"
    return f"{sign}{area:,.0f}" if area >= 10 else f"{sign}{area:.1g}"


def small_parts(product: ProductContent, patches: tuple[int, ...], area_unit: str) -> str:
    """Return how many parts are too small for a label, and what they come to; empty where there are none."""
    if not patches:
        return ""
    area = about(drawn_area(product, patches, area_unit))
    return f"{len(patches):,} smaller part{'s' if len(patches) > 1 else ''}, {area} {area_unit} in all"
