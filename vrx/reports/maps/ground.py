"""The ground on a map: backdrop, zones by rate, borders, keep-outs, boundary."""

from __future__ import annotations

from base64 import b64decode
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.model.content import Content, ProductContent
from vrx.model.drawing import Area, Hatch, Line, Mark, Picture
from vrx.reports.colours import BLACK, WHITE, fill_colour, ink_on, laid_over
from vrx.reports.maps.frame import MapFrame

OVER_BACKDROP: Final = 0.7
"""Opacity of zones that a backdrop shines through."""
ZONE_BORDER_MM: Final = 0.14
RATE_BORDER_MM: Final = 0.4
RATE_CASING_MM: Final = 0.8
"""White beside the border between rates, which shows it also among dark ones."""
BOUNDARY_MM: Final = 0.8
_BACKDROP_OPACITY: Final = 0.55
# Zones of that thickness bear borders of full width; thinner ones have thinner ones, but not below this share.
_FULL_WIDTH_MM: Final = 10.0
_LEAST_FINENESS: Final = 0.15
_NO_POLYGON: Final = shapely.Polygon()


@dataclass(frozen=True, slots=True, kw_only=True)
class MapGround:
    """What is drawn of the ground, on the page: shapes in millimetres.

    Attributes
    ----------
    patches : object array, shape (n_patches,)
    keep_outs : dict
        Those that bind the product, by their number in the content; only what lies on the map.
    opacity : float
        Of zones.
    fineness : float
        Width of borders as a share of what it is among large zones: many small ones drown in thick borders.
    """

    frame: MapFrame
    boundary: BaseGeometry
    patches: NDArray[np.object_]
    keep_outs: dict[int, BaseGeometry]
    opacity: float
    fineness: float


def lay_out(content: Content, product: ProductContent, frame: MapFrame) -> MapGround:
    """Place a product's shapes on the page."""
    box = frame.box
    page = shapely.box(box.x, box.y, box.right, box.bottom)
    patches = _read(frame, [patch.shape for patch in product.patches])
    kept = _read(frame, [content.keep_outs[at].shape for at in product.keep_outs])
    shown = shapely.intersection(kept, page)
    return MapGround(
        frame=frame,
        boundary=_read(frame, [content.boundary])[0],
        patches=patches,
        keep_outs={at: one for at, one in zip(product.keep_outs, shown, strict=True) if not one.is_empty},
        opacity=opacity_of(content),
        fineness=_fineness(patches),
    )


def opacity_of(content: Content) -> float:
    """Return the opacity of zones."""
    return OVER_BACKDROP if content.backdrop else 1.0


def fill_of(shade: float, opacity: float) -> str:
    """Return what a rate class looks like on the map, over white paper."""
    return laid_over(fill_colour(shade), WHITE, opacity)


def hatch_of(shade: float) -> Hatch:
    """Return the hatch of a rate class: slanted where the product is off."""
    return "slanted" if shade < 0 else ""


def ground_marks(content: Content, product: ProductContent, ground: MapGround) -> Iterator[Mark]:
    """Yield the ground, from the backdrop up to the boundary."""
    yield from _backdrop(content, ground.frame)
    class_of = np.array([product.rows[patch.row].rate_class for patch in product.patches], dtype=np.int64)
    for at, (shape, rate_class) in enumerate(zip(ground.patches, class_of.tolist(), strict=True)):
        shade = product.classes[rate_class].shade
        # Both of two zones of one rate draw their border alike; what lies between rates is drawn over it.
        yield Area(
            rings=rings(shape), fill=fill_colour(shade), opacity=ground.opacity, hatch=hatch_of(shade),
            stroke=ink_on(fill_of(shade, ground.opacity)),
            width=ZONE_BORDER_MM * ground.fineness, key=f"patch {at}",
        )  # fmt: skip
    outlines = []
    for rate_class in np.unique(class_of):
        outline = _union(ground.patches[class_of == rate_class])
        outlines.append(rings(outline))
    for colour, width in ((WHITE, RATE_CASING_MM), (BLACK, RATE_BORDER_MM)):
        yield from (Area(rings=one, stroke=colour, width=width * ground.fineness) for one in outlines)
    for at, shape in ground.keep_outs.items():
        yield Area(
            rings=rings(shape), fill=WHITE, hatch="crossed", stroke=BLACK, width=RATE_BORDER_MM, key=f"keep-out {at}"
        )
    if not ground.boundary.is_empty:
        yield Area(rings=rings(ground.boundary), stroke=BLACK, width=BOUNDARY_MM)


def rings(shape: BaseGeometry) -> tuple[NDArray[np.float64], ...]:
    """Return the rings of a polygon or of several, each closed; what is no polygon is left out."""
    parts = shapely.get_parts(np.array([shape], dtype=object))
    parts = parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON]
    return tuple(shapely.get_coordinates(ring) for ring in shapely.get_rings(parts))


def _fineness(patches: NDArray[np.object_]) -> float:
    if not len(patches):
        return 1.0
    thickness = float(np.median(4 * shapely.area(patches) / shapely.length(patches)))  # of a square: its side
    return min(1.0, max(_LEAST_FINENESS, thickness / _FULL_WIDTH_MM))


def _backdrop(content: Content, frame: MapFrame) -> Iterator[Mark]:
    behind = content.backdrop
    if behind is None:
        return
    (x, y), (right, bottom) = frame.on_page(np.array(((behind.west, behind.north), (behind.east, behind.south))))
    if behind.png:
        yield Picture(
            x=x, y=y, width=right - x, height=bottom - y, png=b64decode(behind.png), opacity=_BACKDROP_OPACITY
        )
    if behind.lines:
        shape = shapely.transform(shapely.from_wkt(behind.lines), frame.on_page)
        for line in shapely.get_parts(shape):
            yield Line(points=shapely.get_coordinates(line), stroke="#808080", width=0.25)


def _read(frame: MapFrame, texts: list[str]) -> NDArray[np.object_]:
    shapes = np.array([shapely.from_wkt(text) if text else _NO_POLYGON for text in texts], dtype=object)
    return frame.shapes_on_page(shapes)


def _union(shapes: NDArray[np.object_]) -> BaseGeometry:
    if shapely.coverage_is_valid(shapes):
        return shapely.coverage_union_all(shapes)
    return shapely.union_all(shapes)
