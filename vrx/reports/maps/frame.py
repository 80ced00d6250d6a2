"""The frame of a map: from metres on the ground to millimetres on paper, north up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.model.content import Content, ProductContent

# Around the ground shown, as a share of its longer side.
_ROOM: Final = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A box on the page, in millimetres from its upper left corner."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Its right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """Its lower edge."""
        return self.y + self.height


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent:
    """What a map shows, in local metres."""

    west: float
    south: float
    east: float
    north: float

    @property
    def width(self) -> float:
        """From west to east."""
        return self.east - self.west

    @property
    def height(self) -> float:
        """From south to north."""
        return self.north - self.south


@dataclass(frozen=True, slots=True, kw_only=True)
class MapFrame:
    """Where on the page the ground is.

    Attributes
    ----------
    box : Box
        The extent, drawn.
    room : Box
        The box, and what is free around it where the ground is narrow: marks may go there.
    mm_per_m : float
    """

    extent: Extent
    box: Box
    room: Box
    mm_per_m: float

    def on_page(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points given east and north in metres, shape (n, 2), in millimetres on the page."""
        x = self.box.x + (points[:, 0] - self.extent.west) * self.mm_per_m
        y = self.box.y + (self.extent.north - points[:, 1]) * self.mm_per_m
        return np.column_stack((x, y))

    def shapes_on_page(self, shapes: NDArray[np.object_]) -> NDArray[np.object_]:
        """Return shapes on the page; y points down, so rings turn the other way."""
        moved: NDArray[np.object_] = shapely.transform(shapes, self.on_page)
        return moved


def extent_of(content: Content, product: ProductContent) -> Extent:
    """Return what to show: the boundary, all treated ground and the backdrop, with a little room around."""
    texts = [content.boundary, *(patch.shape for patch in product.patches)]
    shapes = [*shapely.from_wkt([text for text in texts if text])]
    if content.backdrop:
        behind = content.backdrop
        shapes.append(shapely.box(behind.west, behind.south, behind.east, behind.north))
    if not shapes:
        return Extent(west=0.0, south=0.0, east=1.0, north=1.0)
    west, south, east, north = shapely.total_bounds(shapes).tolist()
    room = 0.0 if content.backdrop else max(east - west, north - south, 1.0) * _ROOM
    return Extent(west=west - room, south=south - room, east=east + room, north=north + room)


def frame_in(extent: Extent, box: Box) -> MapFrame:
    """Return the largest frame of an extent within a box, in its middle."""
    scale = scale_in(extent, box.width, box.height)
    width, height = extent.width * scale, extent.height * scale
    x, y = box.x + (box.width - width) / 2, box.y + (box.height - height) / 2
    return MapFrame(extent=extent, box=Box(x=x, y=y, width=width, height=height), room=box, mm_per_m=scale)


def scale_in(extent: Extent, width: float, height: float) -> float:
    """Return the millimetres on paper of a metre where an extent fills a box."""
    return min(width / extent.width, height / extent.height)
