"""What to have, what it costs, and how often and how far to fill, in the report."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree.ElementTree import Element

from vrx.model.content import Content, LoadsContent, ProductContent
from vrx.reports.html.tree import element, sentences, table


def order_section(content: Content) -> Element | None:
    """Return each product's order and cost; None where the plan names no overlap, package or price."""
    products = [one for one in content.products if one.order]
    if not products:
        return None
    total = element("p", "To have it all costs ", element("strong", content.cost), ".") if content.cost else None
    return element(
        "section",
        element("h2", "Order and cost" if content.cost else "Order"),
        element(
            "p",
            "Every total elsewhere in this report is what the map gives, without what stands here. "
            "Stock on hand is not taken off.",
        ),
        total,
        (element("article", element("h3", one.name), _order(one), _by_rate(content, one)) for one in products),
        id="order",
    )


def loads_section(products: Sequence[ProductContent]) -> Element | None:
    """Return the loads of each product with their fill sheet; None where the machine has no boxes."""
    loaded = [(one, one.loads) for one in products if one.loads is not None]
    if not loaded:
        return None
    return element(
        "section",
        element("h2", "Loads"),
        (
            element(
                "article", element("h3", product.name), element("p", _sentence(loads.summary)), _fills(product, loads)
            )
            for product, loads in loaded
        ),
        id="loads",
    )


def _order(product: ProductContent) -> Element:
    *parts, last = product.order
    priced = bool(product.price)
    head: list[str | tuple[str, str]] = ["", ("Amount", product.amount_unit)]
    head += [("Cost", product.currency)] if priced else []
    rows = [(one.label, one.amount, one.cost) if priced else (one.label, one.amount) for one in parts]
    foot = (last.label, last.amount, last.cost) if priced else (last.label, last.amount)
    boxed = table(head, rows, caption=f"Order of {product.name}", numbers=(1, 2), foot=foot)
    return element("div", element("p", f"Price: {product.price}.") if priced else None, boxed)


def _by_rate(content: Content, product: ProductContent) -> Element | None:
    if not product.price:
        return None
    return element(
        "div",
        element("h4", "Cost on the map by rate"),
        table(
            (("Rate", product.unit), ("True ground", content.area_unit), ("Amount", product.amount_unit),
             ("Cost", product.currency)),
            [(one.rate, one.area, one.amount, one.cost) for one in product.classes],
            caption=f"Cost of {product.name} by rate",
            numbers=(1, 2, 3),
        ),
        element("p", product.width_note, class_="width") if product.width_note else None,
        element("p", "The ledger has the cost of each zone."),
    )  # fmt: skip


def _fills(product: ProductContent, loads: LoadsContent) -> Element:
    unit = product.amount_unit
    boxes = [(name, unit) if name == "Fill to" else (f"{name}: fill to", unit) for name in loads.boxes]
    boxed = table(
        ("Load", *boxes, ("Puts out", unit), "Each covers"),
        [(one.load, *one.fill_to, one.puts_out, one.covers) for one in loads.fills],
        caption=f"Fill sheet of {product.name}",
        numbers=range(1, len(boxes) + 3),
    )
    return element("div", boxed if loads.fills else None, sentences((*loads.watch, *loads.notes)))


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."
