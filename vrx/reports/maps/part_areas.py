"""Areas of parts of zones: one as it was measured; several together, whose numbers were rounded, as about so much."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from vrx.model.content import Patch, ProductContent
from vrx.units import ACRE_M2, HECTARE_M2

_LEAST = 0.01


def key_area(product: ProductContent, patches: Sequence[int], area_unit: str) -> str:
    """Return the area of patches that bear one number, as short as a key wants it."""
    if len(patches) == 1 and product.patches[patches[0]].area:
        return product.patches[patches[0]].area
    return about(_summed(product, patches, area_unit)).replace("about", "≈").replace("less than", "<")


def small_parts(product: ProductContent, patches: Sequence[int], area_unit: str) -> str:
    """Return how many parts are too small for a label, and what they come to; empty where there are none."""
    if not patches:
        return ""
    area = about(_summed(product, patches, area_unit))
    return f"{len(patches):,} smaller part{'s' if len(patches) > 1 else ''}, {area} {area_unit} in all"


def about(area: float) -> str:
    """Return an area of which two digits are known.

    Examples
    --------
    >>> [about(area) for area in (0.314, 12.4, 1988, 0.00004)]
    ['about 0.31', 'about 12', 'about 1,988', 'less than 0.01']
    """
    if area < _LEAST:
        return f"less than {_LEAST}"
    return f"about {area:,.0f}" if area >= 10 else f"about {area:.2g}"


def _summed(product: ProductContent, patches: Sequence[int], area_unit: str) -> float:
    return sum(_area(product.patches[at], area_unit) for at in patches)


def _area(patch: Patch, area_unit: str) -> float:
    if patch.area.startswith("<"):
        return 0.0
    if patch.area:
        return float(patch.area.replace(",", ""))
    # A content without measured parts: what is drawn is about what is on the ground.
    return float(shapely.area(shapely.from_wkt(patch.shape))) / float(ACRE_M2 if area_unit == "ac" else HECTARE_M2)
