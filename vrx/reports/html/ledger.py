"""Ledgers in the report: what every zone wanted and got, why, on how much ground; and how a rate came about."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree.ElementTree import Element

from vrx.model.content import Content, ProductContent, RowContent
from vrx.reports.html.tree import element, sentences, table, table_row

_MOST_OPEN = 40
_NUMBERS = (2, 3, 4, 6, 7, 8, 9)


def ledgers_section(content: Content) -> Element:
    """Return a ledger a product, with its totals and the line that adds up."""
    return element(
        "section",
        element("h2", "Ledgers"),
        element(
            "p",
            "A line for each zone and reason. Wanted is what the agronomy asks for; then come the limits and steps of "
            "the product; given is what the machine is told, after small parts joined their neighbours. "
            "Amounts are given rate times true ground.",
        ),
        (_ledger(content, at, one) for at, one in enumerate(content.products, start=1)),
        id="ledgers",
    )


def how_section(products: Sequence[ProductContent]) -> Element:
    """Return the way from an input to a rate, and a zone worked through, so that a person can redo it by hand."""
    return element(
        "section",
        element("h2", "How each rate came about"),
        (_how(at, one) for at, one in enumerate(products, start=1)),
        id="how",
    )


def _ledger(content: Content, number: int, product: ProductContent) -> Element:
    boxed = _table(content, number, product)
    long = len(product.rows) > _MOST_OPEN
    if long:
        boxed = element("details", element("summary", f"Show all {len(product.rows):,} lines"), boxed)
    return element(
        "article",
        element("h3", product.name),
        element("p", product.width_note, class_="width") if product.width_note else None,
        boxed,
        element("p", element("b", "It adds up: "), product.sums, ".", class_="sums"),
        _overlays(product),
        id=f"ledger-{number}",
        class_="product long" if long else "product",
    )


def _overlays(product: ProductContent) -> Element | None:
    """Return what each overlay covers and changes; None where there is none."""
    if not product.overlays:
        return None
    lines = [(one.name, one.what, one.area, one.amount) for one in product.overlays]
    return table(
        ("Overlay", "What it does", "True ground", "Change of what is wanted"),
        (table_row(line, (2, 3)) for line in lines),
        caption=f"Overlays on {product.name}: the wanted total holds their changes",
        numbers=(2, 3),
    )


def _table(content: Content, number: int, product: ProductContent) -> Element:
    columns: list[str | tuple[str, str]] = [
        "Zone",
        "Inputs",
        ("Wanted", product.unit),
        ("After limits", product.unit),
        ("Given", product.unit),
        "Why",
        ("True ground", content.area_unit),
        ("Map sheet", content.area_unit),
        ("Amount", product.amount_unit),
    ]
    columns += [("Cost", product.currency)] if product.price else []
    cost = [product.order[0].cost] if product.price else []  # an order begins with what the map gives
    drawn = {patch.row for patch in product.patches}
    return table(
        columns,
        (_row(number, at, row, on_map=at in drawn, priced=bool(product.price)) for at, row in enumerate(product.rows)),
        caption=f"Ledger of {product.name}",
        numbers=_NUMBERS,
        foot=("Total", "", "", "", "", "", product.true_area, product.sheet_area, product.total, *cost),
        class_="ledger priced" if product.price else "ledger",
    )


def _row(number: int, at: int, row: RowContent, *, on_map: bool, priced: bool) -> Element:
    zone = element("a", row.zone, href=f"#map-{number}", data_row=at) if on_map else row.zone
    cells = (
        zone, row.inputs, row.wanted, row.limited, row.given, row.why, row.true_area, row.sheet_area, row.amount,
        *([row.cost] if priced else []),
    )  # fmt: skip
    return table_row(cells, _NUMBERS, id=f"row-{number}-{at}")


def _how(number: int, product: ProductContent) -> Element:
    made = element("article", element("h3", product.name), sentences(product.method, "ol"), id=f"how-{number}")
    if product.example:
        made.append(element("h4", "One zone by hand"))
        made.append(element("div", (element("p", line) for line in product.example), class_="example"))
    if product.written_rates:
        words = f"Rates in the unit of the product, and as the file says them in {product.written_unit}"
        pairs = [(one.label, one.value) for one in product.written_rates]
        boxed = table(("Rate", "In the file"), pairs, caption=words)
        made.append(element("h4", "The same rates in the file's unit"))
        if len(pairs) > _MOST_OPEN:
            boxed = element("details", element("summary", f"Show all {len(pairs):,} rates"), boxed)
        made.append(boxed)
    return made
