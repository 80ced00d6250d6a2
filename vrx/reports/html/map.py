"""Maps in the report: by pointer, finger and keyboard each zone tells its line of the ledger, each finding its text."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.model.content import Content, FindingContent, ProductContent, RowContent
from vrx.model.drawing import Drawing
from vrx.reports.html.marks import WORDS, class_swatch, inline, keep_out_swatch, shape_alone
from vrx.reports.html.tree import element, table
from vrx.reports.maps.findings import SHOWN, shown_findings
from vrx.reports.maps.frame import MapFrame
from vrx.reports.maps.ground import opacity_of
from vrx.reports.maps.label_text import KEEP_OUT
from vrx.reports.maps.legend import rate_words
from vrx.reports.maps.page import map_only, only_frame

_MAP_WIDTH_MM: Final = 100.0
_POINT_MM: Final = 1.5

RowWords = Callable[[Content, ProductContent, RowContent], str]


def draw_maps(content: Content) -> tuple[Drawing, ...]:
    """Return the map of each product."""
    return tuple(map_only(content, at, width=_MAP_WIDTH_MM) for at in range(len(content.products)))


def map_of(content: Content, finding: FindingContent) -> int | None:
    """Return the index of the map to look at for a finding: its product's, else the first; None if it has no place."""
    if not _lies_somewhere(finding):
        return None
    return next((at for at, product in enumerate(content.products) if _concerns(finding, product)), None)


def maps_section(content: Content, drawings: Sequence[Drawing]) -> Element:
    """Return a map a product, with its legend."""
    return element(
        "section",
        element("h2", "Maps"),
        (_map(content, at, drawing) for at, drawing in enumerate(drawings)),
        id="maps",
    )


def _map(content: Content, at: int, drawing: Drawing) -> Element:
    product, number = content.products[at], at + 1
    hint = "Point at a zone, or tap it, to see its line of the ledger here. With the keyboard: Tab, then arrow keys."
    return element(
        "article",
        element("h3", product.name),
        element("p", f"Rates in {product.unit}, printed in the zones. Treated: {product.true_area}, total: ",
                element("strong", product.total), ".", f" {product.width_note}" if product.width_note else ""),
        element(
            "div",
            element("figure", picture(content, product, drawing, _row_words), class_="map"),
            element("div", element("p", hint, class_="hint"), class_="readout", aria_live="polite", hidden=""),
            element("div", _legend(content, product), class_="legend"),
            class_="map-and-key",
        ),
        id=f"map-{number}",
        class_="product",
        data_map=number,
    )  # fmt: skip


def picture(content: Content, product: ProductContent, drawing: Drawing, words: RowWords) -> Element:
    """Return the drawing with its marks tied to the ledger and to the findings.

    Parameters
    ----------
    words : callable
        What a zone says of itself, from content, product and its row.
    """
    svg = inline(drawing, "field")
    svg.set("role", "group")
    svg.set("aria-label", drawing.title)
    findings = {f"finding {one.number}": one for one in content.findings}
    marks, links = list(svg), dict[str, Element]()
    for mark in marks:
        key = mark.get("data-key", "")
        kind, _, index = key.partition(" ")
        if kind == "patch":
            row = product.patches[int(index)].row
            mark.set("data-row", str(row))
            _name(mark, words(content, product, product.rows[row]))
        elif kind == "keep-out":
            one = content.keep_outs[int(index)]
            _name(mark, f"Keep-out: {one.name}. Holds for {one.binds}.")
        elif key in findings:
            svg.remove(mark)
            if key not in links:
                links[key] = _link(findings[key])
                svg.append(links[key])
            links[key].append(mark)
    svg.extend(_grounds(content, product, only_frame(content, product, width=_MAP_WIDTH_MM)))
    return svg


def _name(mark: Element, words: str) -> None:
    # Browsers show a title when a pointer rests on the mark, and read it out: also where no script runs.
    mark.insert(0, element("title", words))


def _link(one: FindingContent) -> Element:
    words = element("title", f"Finding {one.number}: {one.title}")
    return element("a", words, href=f"#finding-{one.number}", data_finding=one.number)


def _row_words(content: Content, product: ProductContent, row: RowContent) -> str:
    of_the_field = f" of the field, of which {product.share} get it" if product.share else ""
    lines = (
        f"Zone {row.zone}: given {row.given} {product.unit}",
        f"wanted {row.wanted}, after limits {row.limited}" + (f" ({row.why})" if row.why else ""),
        f"{row.true_area} {content.area_unit}{of_the_field}, {row.amount} {product.amount_unit}",
    )
    return "\n".join(lines)


def _grounds(content: Content, product: ProductContent, frame: MapFrame) -> Iterator[Element]:
    """Yield the ground of every finding of a product; the page outlines it on demand."""
    for one in content.findings:
        if one.shape and _concerns(one, product):
            path = _path(shapely.transform(shapely.from_wkt(one.shape), frame.on_page))
            yield element("path", d=path, class_="ground", data_ground=one.number)


def _path(shape: BaseGeometry) -> str:
    """Return a shape as an SVG path; a point is a small ring."""
    parts = shapely.get_parts(np.array([shape], dtype=object))
    polygons = shapely.get_type_id(parts) == shapely.GeometryType.POLYGON
    lines = [*shapely.get_rings(parts[polygons]), *parts[~polygons]]
    return "".join(_line(shapely.get_coordinates(line)) for line in lines)


def _line(points: NDArray[np.float64]) -> str:
    if len(points) == 1:
        (x, y), size = points[0].tolist(), _POINT_MM
        return f"M{x - size:.2f} {y:.2f}a{size} {size} 0 1 0 {2 * size} 0a{size} {size} 0 1 0 {-2 * size} 0z"
    return "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points.tolist())


def _lies_somewhere(finding: FindingContent) -> bool:
    return bool(finding.shape) or finding.place is not None


def _concerns(finding: FindingContent, product: ProductContent) -> bool:
    return finding.product in {"", product.name}


def _legend(content: Content, product: ProductContent) -> Iterator[Element]:
    """Yield what the colours mean: the rate classes with what they come to, and the signs of the map."""
    opacity = opacity_of(content)
    rows = [
        (element("span", class_swatch(one, opacity), " ", rate_words(one)),
         one.area, one.share, one.amount)
        for one in reversed(product.classes)
    ]  # fmt: skip
    yield table(
        (("Rate", product.unit), ("Ground", content.area_unit), "Share", ("Amount", product.amount_unit)),
        rows,
        caption=f"Rates on the map of {product.name}",
        numbers=(1, 2, 3),
    )
    if signs := signs_of(content, product):
        yield element("ul", signs, class_="signs")


def signs_of(content: Content, product: ProductContent) -> list[Element]:
    """Return what the other signs of a map mean, a line of a list each; only those that are on it."""
    signs = []
    if product.keep_outs:
        names = ", ".join(content.keep_outs[at].name for at in product.keep_outs)
        signs.append(element("li", keep_out_swatch(), " ", f"{KEEP_OUT}: {names}"))
    shown = {one.severity for one in shown_findings(content, product)}
    for severity in (each for each in SHOWN if each in shown):
        found = element("a", "what was found", href="#findings")
        signs.append(element("li", shape_alone(severity), f" {WORDS[severity].lower()}, by its number: see ", found))
    if content.backdrop:
        signs.append(element("li", f"faint, behind the zones: {content.backdrop.name}"))
    return signs
