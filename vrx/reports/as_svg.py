"""A drawing as SVG: plain shapes and text, no script, no style sheet, no identifiers, the same bytes every day."""

from __future__ import annotations

from base64 import b64encode
from typing import Final
from xml.etree.ElementTree import Element, SubElement, tostring  # only written here, never read

import numpy as np
from numpy.typing import NDArray

from vrx.model.drawing import Area, Drawing, Line, Mark, Picture, Words
from vrx.reports.fonts import FAMILY, printable, text_width
from vrx.reports.hatching import hatch_lines

HATCH_WIDTH_MM: Final = 0.18
HATCH_COLOUR: Final = "#000000"
HALO_OF_SIZE: Final = 0.22
"""Width of a halo's stroke, in ems; half of it shows outside the letters."""


def svg_bytes(drawing: Drawing) -> bytes:
    """Return a drawing as an SVG file, its page in millimetres."""
    root = svg_element(drawing)
    root.set("width", f"{_number(drawing.width)}mm")
    root.set("height", f"{_number(drawing.height)}mm")
    return b'<?xml version="1.0" encoding="UTF-8"?>\n' + str(tostring(root, encoding="unicode")).encode() + b"\n"


def svg_element(drawing: Drawing) -> Element:
    """Return a drawing as an ``svg`` element that takes the size of what is around it.

    A mark with a key carries it as ``data-key``, and its first word as ``class``.
    """
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg"})
    root.set("viewBox", f"0 0 {_number(drawing.width)} {_number(drawing.height)}")
    root.set("role", "img")
    root.set("font-family", f"'{FAMILY}', Verdana, sans-serif")
    # The widths that places were found with know no kerning and no ligatures.
    root.set("style", "font-kerning:none;font-variant-ligatures:none")
    SubElement(root, "title").text = printable(drawing.title)
    root.set("stroke-linejoin", "round")
    for mark in drawing.marks:
        _draw(root, mark)
    return root


def _draw(parent: Element, mark: Mark) -> None:
    if isinstance(mark, Area):
        _area(parent, mark)
    elif isinstance(mark, Line):
        path = SubElement(parent, "path", {"d": _path(mark.points), "fill": "none"})
        _stroke(path, mark.stroke, mark.width, mark.dashes)
    elif isinstance(mark, Words):
        _words(parent, mark)
    else:
        _picture(parent, mark)


def _area(parent: Element, mark: Area) -> None:
    shape = "".join(f"{_path(ring[:-1])}Z" for ring in mark.rings)
    path = Element("path", {"d": shape, "fill": mark.fill or "none"})
    if mark.fill:
        path.set("fill-rule", "evenodd")
        if mark.opacity < 1:
            path.set("fill-opacity", _number(mark.opacity))
    if mark.stroke:
        _stroke(path, mark.stroke, mark.width, mark.dashes)
    lines = hatch_lines(mark)
    whole = path
    if len(lines):
        whole = Element("g")
        whole.append(path)
        hatch = SubElement(whole, "path", {"d": "".join(_path(line) for line in lines), "fill": "none"})
        hatch.set("pointer-events", "none")
        _stroke(hatch, HATCH_COLOUR, HATCH_WIDTH_MM, ())
    _tag(whole, mark.key)
    parent.append(whole)


def _words(parent: Element, mark: Words) -> None:
    content = printable(mark.text)
    text = SubElement(parent, "text", {"x": _number(mark.x), "y": _number(mark.y), "font-size": _number(mark.size)})
    if mark.anchor != "start":
        text.set("text-anchor", mark.anchor)
    if mark.bold:
        text.set("font-weight", "bold")
    if mark.colour != "#000000":
        text.set("fill", mark.colour)
    if mark.halo:
        _stroke(text, mark.halo, HALO_OF_SIZE * mark.size, ())
        text.set("paint-order", "stroke")
    if len(content) > 1:
        # Where the font is missing another takes its place: the text still ends where it should.
        text.set("textLength", _number(text_width(content, size=mark.size, bold=mark.bold)))
        text.set("lengthAdjust", "spacingAndGlyphs")
    text.text = content
    _tag(text, mark.key)


def _picture(parent: Element, mark: Picture) -> None:
    box = {"x": mark.x, "y": mark.y, "width": mark.width, "height": mark.height, "opacity": mark.opacity}
    image = SubElement(parent, "image", {name: _number(value) for name, value in box.items()})
    image.set("preserveAspectRatio", "none")
    image.set("href", f"data:image/png;base64,{b64encode(mark.png).decode('ascii')}")


def _tag(element: Element, key: str) -> None:
    if key:
        element.set("class", key.partition(" ")[0])
        element.set("data-key", key)


def _stroke(element: Element, colour: str, width: float, dashes: tuple[float, ...]) -> None:
    element.set("stroke", colour)
    element.set("stroke-width", _number(width))
    if dashes:
        element.set("stroke-dasharray", " ".join(_number(dash) for dash in dashes))


def _path(points: NDArray[np.float64]) -> str:
    return "M" + "L".join(f"{_number(x)} {_number(y)}" for x, y in points.tolist())


def _number(value: float) -> str:
    """Write a length to a hundredth of a millimetre, without trailing zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
