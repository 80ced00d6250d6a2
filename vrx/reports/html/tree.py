"""A tree of HTML elements, so that text from files stays text whatever it holds."""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Sequence
from typing import TypeAlias
from xml.etree.ElementTree import Element, tostring  # only written here, never read

Node: TypeAlias = Element | str | None

# Not allowed in HTML (control characters, halves of surrogate pairs, non-characters), or able to turn the direction
# of the sentence around them.
_UNFIT = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u202d\u202e\ud800-\udfff\ufdd0-\ufdef"
    + "".join(f"{chr(plane + 0xFFFE)}{chr(plane + 0xFFFF)}" for plane in range(0, 0x110000, 0x10000))
    + "]"
)
_LINE_END = re.compile("\r\n?")
_REPLACEMENT = "\ufffd"


def element(tag: str, *children: Node | Iterable[Node], **attributes: str | int | None) -> Element:
    """Return an element with its children; an iterable of children stands for all of them.

    ``_`` in an attribute's name is written ``-``, and dropped at the end: ``class_``, ``data_row``. An attribute
    that is None is left out.
    """
    made = Element(tag)
    for name, value in attributes.items():
        if value is not None:
            made.set(name.rstrip("_").replace("_", "-"), str(value))
    for child in children:
        extend(made, [child] if child is None or isinstance(child, Element | str) else child)
    return made


def extend(parent: Element, children: Iterable[Node]) -> None:
    """Add children, strings among them, behind those that are there."""
    for child in children:
        if isinstance(child, str):
            if len(parent):
                parent[-1].tail = (parent[-1].tail or "") + child
            else:
                parent.text = (parent.text or "") + child
        elif child is not None:
            parent.append(child)


def facts_list(pairs: Iterable[tuple[str, str]], class_: str = "facts") -> Element | None:
    """Return labels with their values; None where there are none."""
    items = [element("div", element("dt", label), element("dd", value)) for label, value in pairs]
    return element("dl", items, class_=class_) if items else None


def sentences(lines: Iterable[str], tag: str = "ul") -> Element | None:
    """Return a list, an item a line; None where there are none."""
    items = [element("li", line) for line in lines]
    return element(tag, items) if items else None


def table(
    head: Iterable[str | tuple[str, str]],
    rows: Iterable[Sequence[Node] | Element],
    *,
    caption: str,
    numbers: Iterable[int] = (),
    foot: Sequence[Node] = (),
    class_: str | None = None,
) -> Element:
    """Return a table in a box of its own, which alone scrolls sideways where the window is narrow.

    Parameters
    ----------
    head : iterable
        Column heads; a pair is a word and its unit.
    rows : iterable
        Cells, or what :func:`table_row` made of them.
    caption : str
        What the table holds, for those who can't see the headings around it.
    numbers : iterable of int
        Columns that hold numbers.
    foot : sequence
        A last row of totals.
    """
    right = frozenset(numbers)
    made = element(
        "table",
        element("caption", caption),
        element("thead", element("tr", (_head_cell(cell, at in right) for at, cell in enumerate(head)))),
        element("tbody", (row if isinstance(row, Element) else table_row(row, right) for row in rows)),
        element("tfoot", table_row(foot, right)) if foot else None,
        class_=class_,
    )
    return element("div", made, class_="scroll", tabindex=0, role="region", aria_label=caption)


def table_row(cells: Sequence[Node], numbers: Container[int], **attributes: str | int) -> Element:
    """Return a row whose first cell names it."""
    first, *rest = cells
    return element(
        "tr",
        element("th", first, scope="row"),
        (element("td", cell, class_="number" if at in numbers else None) for at, cell in enumerate(rest, start=1)),
        **attributes,
    )


def page(root: Element) -> bytes:
    """Return a tree as an HTML file in UTF-8."""
    for each in root.iter():
        each.text, each.tail = _fit(each.text), _fit(each.tail)
        for name, value in each.items():
            each.set(name, _fit(value) or "")
    text = tostring(root, encoding="unicode", method="html")
    return f"<!DOCTYPE html>\n{text}\n".encode()


def _head_cell(cell: str | tuple[str, str], right: bool) -> Element:
    word, unit = cell if isinstance(cell, tuple) else (cell, "")
    small = element("small", unit) if unit else None
    return element("th", element("span", word), " ", small, scope="col", class_="number" if right else None)


def _fit(text: str | None) -> str | None:
    return _UNFIT.sub(_REPLACEMENT, _LINE_END.sub("\n", text)) if text else text
