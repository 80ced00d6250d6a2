"""Small drawings inside the report's text: the same marks, fills and hatches as on its maps."""

from __future__ import annotations

from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from vrx.model.content import FindingContent, RateClass
from vrx.model.drawing import Area, Drawing, Line, Mark
from vrx.model.finding import Severity
from vrx.reports.as_svg import svg_element
from vrx.reports.colours import BLACK, WHITE
from vrx.reports.html.tree import element
from vrx.reports.maps.findings import MARK_MM, mark
from vrx.reports.maps.frame import Box
from vrx.reports.maps.ground import fill_of, hatch_of
from vrx.reports.maps.scale_bar import rectangle

# A shape and a word for each severity, so that nothing rests on colour.
WORDS: Final[dict[Severity, str]] = {"stop": "Stop", "caution": "Caution", "note": "Note"}
_SIGNS: Final[dict[Severity, str]] = {"stop": "!", "caution": "!", "note": "i"}
_MARK_PAGE_MM: Final = MARK_MM + 1.4
_SWATCH_MM: Final = (10.0, 6.0)


def inline(drawing: Drawing, class_: str) -> Element:
    """Return a drawing for the inside of a page, whose style stands in its sheet alone."""
    svg = svg_element(drawing)
    for attribute in ("style", "xmlns"):
        svg.attrib.pop(attribute, None)
    for title in svg.findall("title"):
        svg.remove(title)  # it would show wherever the pointer rests
    svg.set("class", class_)
    return svg


def badge(severity: Severity) -> Element:
    """Return a severity's shape and its word."""
    return element("span", _shape(severity, _SIGNS[severity]), " ", element("b", WORDS[severity]), class_="badge")


def numbered(finding: FindingContent) -> Element:
    """Return a finding's shape and number, as they stand on the map, and the word of its severity."""
    shape = _shape(finding.severity, str(finding.number))
    return element("span", shape, " ", element("b", f"{WORDS[finding.severity]} {finding.number}"), class_="badge")


def clear_badge() -> Element:
    """Return a tick and the word that nothing was found."""
    side, edge = _MARK_PAGE_MM, 0.7
    box = rectangle(Box(x=edge, y=edge, width=side - 2 * edge, height=side - 2 * edge))
    tick = np.array(((0.24, 0.53), (0.43, 0.72), (0.78, 0.28))) * side
    shape = _hidden(
        side, side, Area(rings=box.rings, fill=WHITE, stroke=BLACK, width=0.4), Line(points=tick, width=0.9)
    )
    shape.set("class", "shape")
    return element("span", shape, " ", element("b", "Clear"), class_="badge")


def shape_alone(severity: Severity) -> Element:
    """Return a severity's shape without a word, with an n for a number."""
    return _shape(severity, "n")


def class_swatch(one: RateClass, opacity: float) -> Element:
    """Return the fill of a rate class."""
    width, height = _SWATCH_MM
    ring = rectangle(Box(x=0.2, y=0.2, width=width - 0.4, height=height - 0.4)).rings
    fill = fill_of(one.shade, opacity)
    return _hidden(width, height, Area(rings=ring, fill=fill, hatch=hatch_of(one.shade), stroke=BLACK, width=0.4))


def keep_out_swatch() -> Element:
    """Return the hatch of keep-outs."""
    width, height = _SWATCH_MM
    ring = rectangle(Box(x=0.2, y=0.2, width=width - 0.4, height=height - 0.4)).rings
    return _hidden(width, height, Area(rings=ring, fill=WHITE, hatch="crossed", stroke=BLACK, width=0.4))


def _shape(severity: Severity, text: str) -> Element:
    middle = _MARK_PAGE_MM / 2
    made = _hidden(_MARK_PAGE_MM, _MARK_PAGE_MM, *mark(severity, middle, middle, text))
    made.set("class", "shape")
    return made


def _hidden(width: float, height: float, *marks: Mark) -> Element:
    """Return a drawing that says nothing which does not stand beside it in words."""
    svg = inline(Drawing(width=width, height=height, title="", marks=marks), "swatch")
    svg.set("aria-hidden", "true")
    return svg
