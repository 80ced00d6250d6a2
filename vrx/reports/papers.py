"""The papers of a build: which there are, what they are called, and their bytes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from vrx.model.content import Content
from vrx.reports.as_png import png_bytes
from vrx.reports.as_svg import svg_bytes
from vrx.reports.card.card import cab_card
from vrx.reports.html.report import report_html
from vrx.reports.maps.page import map_page


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A file for people."""

    name: str
    format: str
    data: bytes


def papers(content: Content, *, svg: bool = False) -> Iterator[Paper]:
    """Render a content: report, a map a product, and the cab card; of a stopped build the report alone.

    Parameters
    ----------
    svg : bool
        The maps as SVG too.
    """
    yield Paper(name="report.html", format="html", data=report_html(content))
    if content.stopped:
        return
    for at in range(len(content.products)):
        stem = "map" if at == 0 else f"map-{at + 1}"
        page = map_page(content, at)
        yield Paper(name=f"{stem}.png", format="png", data=png_bytes(page))
        if svg:
            yield Paper(name=f"{stem}.svg", format="svg", data=svg_bytes(page))
    yield Paper(name="cab-card.pdf", format="pdf", data=cab_card(content))
