"""The page of a map: title, map, legend, key and all that makes it a sheet that stands for itself."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vrx.model.content import Content, FindingContent, ProductContent
from vrx.model.drawing import Drawing, Mark
from vrx.reports.fonts import printable
from vrx.reports.maps.findings import finding_marks, place_findings, shown_findings
from vrx.reports.maps.frame import Box, Extent, MapFrame, extent_of, frame_in, scale_in
from vrx.reports.maps.ground import MapGround, ground_marks, lay_out, opacity_of
from vrx.reports.maps.key import key_marks, lay_out_key
from vrx.reports.maps.labels import Labels, label_boxes, label_map
from vrx.reports.maps.legend import legend_block, signs_block
from vrx.reports.maps.page_text import SEPARATOR, facts_block, footer, header, left_out
from vrx.reports.maps.panel import GAP_MM, Block, Columns, column_width, in_columns, least_height
from vrx.reports.maps.part_areas import small_parts
from vrx.reports.maps.scale_bar import STRIP_MM, north_arrow, scale_bar
from vrx.reports.maps.stopped import stopped_band

PAPER_MM: Final = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
_MARGIN_MM: Final = 10.0
_FOOT_MM: Final = 9.0
_LEAST_MAP_MM: Final = 20.0
_SIDE_MM: Final = 82.0
_EDGE_MM: Final = 1.0
# A zone smaller than that may have no room for both its rate and the mark of a finding.
_SMALL_MM2: Final = 200.0
# A page with all else beside the map is worth a slightly smaller map: it leaves less paper empty.
_BESIDE: Final = 1.05
# A map alone is at most that many times as high as it is wide.
_TALLEST: Final = 1.3


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """A page with its boxes: head at the top, then map and panel."""

    page: Box
    head: Block
    map_box: Box
    columns: Columns
    worth: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Map:
    """A drawn map, and what it could not show."""

    marks: tuple[Mark, ...]
    labels: Labels
    findings_left_out: int


def map_page(content: Content, product: int) -> Drawing:
    """Return the page of a product's map, upright or lengthwise as shows more of the field.

    Parameters
    ----------
    product : int
        Index into the content's products.
    """
    one = content.products[product]
    extent = extent_of(content, one)
    layout = max(_layouts(content, one, extent), key=lambda each: each.worth)
    frame = frame_in(extent, layout.map_box)
    key = lay_out_key(one, layout.columns.free)
    drawn = _draw_map(content, one, frame, key_lines=key.entries)
    page = layout.page
    note = left_out(small_parts(one, drawn.labels.small, content.area_unit), drawn.findings_left_out)
    foot = f"{content.written_by}{SEPARATOR}map {product + 1} of {len(content.products)}"
    marks = (
        *layout.head.draw(page.x, page.y),
        *drawn.marks,
        *layout.columns.marks(),
        *key_marks(content, one, key, drawn.labels.numbered),
        *footer(foot, note, left=page.x, right=page.right, bottom=page.bottom),
    )
    return Drawing(
        width=page.width + 2 * _MARGIN_MM, height=page.height + 2 * _MARGIN_MM, title=_title(content, one), marks=marks
    )


def map_only(content: Content, product: int, *, width: float) -> Drawing:
    """Return a product's map with scale bar and north arrow alone.

    Parameters
    ----------
    width : float
        In millimetres; the height follows from the field.
    """
    one = content.products[product]
    frame = only_frame(content, one, width=width)
    drawn = _draw_map(content, one, frame, key_lines=0)
    height = frame.room.bottom + STRIP_MM + _EDGE_MM
    return Drawing(width=width, height=height, title=_title(content, one), marks=drawn.marks)


def only_frame(content: Content, product: ProductContent, *, width: float) -> MapFrame:
    """Return the frame in which :func:`map_only` draws a product's map."""
    extent = extent_of(content, product)
    room = width - 2 * _EDGE_MM
    height = min(max(room * extent.height / extent.width, _LEAST_MAP_MM), room * _TALLEST)
    return frame_in(extent, Box(x=_EDGE_MM, y=_EDGE_MM, width=room, height=height))


def _draw_map(content: Content, product: ProductContent, frame: MapFrame, *, key_lines: int) -> _Map:
    ground = lay_out(content, product, frame)
    shown = shown_findings(content, product)
    band = stopped_band(frame) if content.stopped else None
    banned = [shapely.box(band.box.x, band.box.y, band.box.right, band.box.bottom)] if band else []
    findings = place_findings(shown, frame, taken=[*banned, *_small_labels(product, ground, shown)])
    taken = [*banned, *(one.box for one in findings)]
    labels = label_map(content, product, ground, taken=taken, key_lines=key_lines)
    strip = Box(x=frame.room.x, y=frame.room.bottom, width=frame.room.width, height=STRIP_MM)
    marks = (
        *ground_marks(content, product, ground),
        *(mark for label in labels.placed for mark in label.marks()),
        *(band.marks if band else ()),
        *finding_marks(findings, spared=[*banned, *(label.box for label in labels.placed)]),
        *scale_bar(frame, strip, content.area_unit),
        *north_arrow(strip),
    )
    return _Map(marks=marks, labels=labels, findings_left_out=len(shown) - len(findings))


def _small_labels(product: ProductContent, ground: MapGround, shown: Sequence[FindingContent]) -> list[BaseGeometry]:
    """Return the boxes of labels that a mark would drive out of their zone: the mark gives way."""
    marks = [one.box for one in place_findings(shown, ground.frame)]
    small = np.flatnonzero(shapely.area(ground.patches) < _SMALL_MM2)
    if not marks or not len(small):
        return []
    hit = np.unique(shapely.STRtree(marks).query(ground.patches[small], predicate="intersects")[0])
    return label_boxes(product, ground, small[hit].tolist())


def _layouts(content: Content, product: ProductContent, extent: Extent) -> Iterator[_Layout]:
    short, long = PAPER_MM[content.paper]
    for width, height, columns in ((long, short, 3), (short, long, 2)):
        page = Box(x=_MARGIN_MM, y=_MARGIN_MM, width=width - 2 * _MARGIN_MM, height=height - 2 * _MARGIN_MM)
        head = header(content, product, width=page.width)
        top = page.y + head.height + GAP_MM
        body = Box(x=page.x, y=top, width=page.width, height=page.bottom - top - _FOOT_MM)
        for boxes, worth in (
            (_beside(content, product, body), _BESIDE),
            (_below(content, product, body, extent, columns), 1.0),
        ):
            if boxes:
                scale = scale_in(extent, boxes[0].width, boxes[0].height)
                yield _Layout(page=page, head=head, map_box=boxes[0], columns=boxes[1], worth=scale * worth)


def _beside(content: Content, product: ProductContent, body: Box) -> tuple[Box, Columns] | None:
    """Return the boxes of a map and, at its right, of all else."""
    side = Box(x=body.right - _SIDE_MM, y=body.y, width=_SIDE_MM, height=body.height)
    columns = in_columns(_blocks(content, product, _SIDE_MM), side, 1)
    if columns is None:
        return None
    width = body.width - _SIDE_MM - 2 * GAP_MM
    return Box(x=body.x, y=body.y, width=width, height=body.height - STRIP_MM), columns


def _below(
    content: Content, product: ProductContent, body: Box, extent: Extent, count: int
) -> tuple[Box, Columns] | None:
    """Return the boxes of a map and, below it, of all else: more room for these where the field is low."""
    blocks = _blocks(content, product, column_width(body.width, count))
    most = body.height - _LEAST_MAP_MM - STRIP_MM - GAP_MM
    least = least_height(blocks, body.width, count, most)
    if least is None:
        return None
    room = body.height - STRIP_MM - GAP_MM - least
    height = min(room, max(_LEAST_MAP_MM, extent.height * scale_in(extent, body.width, room)))
    top = body.y + height + STRIP_MM + GAP_MM
    columns = in_columns(blocks, Box(x=body.x, y=top, width=body.width, height=least), count, bottom=body.bottom)
    return (Box(x=body.x, y=body.y, width=body.width, height=height), columns) if columns else None


def _blocks(content: Content, product: ProductContent, width: float) -> tuple[Block, ...]:
    return (
        legend_block(content, product, width=width, opacity=opacity_of(content)),
        signs_block(content, product, shown_findings(content, product), width=width),
        facts_block(content, width=width),
    )


def _title(content: Content, product: ProductContent) -> str:
    return printable(f"Map of {content.title}: {product.name}, rates in {product.unit}")
