"""Pages of HTML, read as the standard reads them."""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree.ElementTree import Element

import html5lib

XHTML, SVG = "{http://www.w3.org/1999/xhtml}", "{http://www.w3.org/2000/svg}"


def parsed(page: bytes) -> Element:
    """Return a page as the standard's own parsing algorithm reads it; any error in it is raised."""
    root: Element = html5lib.HTMLParser(strict=True).parse(page)
    return root


def text_of(root: Element) -> str:
    """Return the text of an element, its parts run together as they stand; signs that only decorate left out."""
    return " ".join("".join(spoken(root)).split())


def spoken(root: Element) -> Iterator[str]:
    if root.get("aria-hidden") != "true":
        yield root.text or ""
        for each in root:
            yield from spoken(each)
            yield each.tail or ""


def lines_of(root: Element) -> str:
    """Return the text of an element, its parts kept apart."""
    return " ".join(" ".join(spoken(root)).split())


def table_of(root: Element, path: str) -> list[list[str]]:
    """Return the cells of the table in a part of the page, heads and totals too."""
    tag, _, name = path.partition("#")
    (found,) = [each for each in root.iter(f"{XHTML}{tag}") if each.get("id") == name]
    made = next(found.iter(f"{XHTML}table"))
    return [[text_of(cell) for cell in row] for row in made.iter(f"{XHTML}tr")]
