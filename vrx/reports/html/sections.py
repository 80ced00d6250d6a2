"""The sections of the report that are lists and tables: areas, settings, keep-outs, machine, files, checksums ..."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree.ElementTree import Element

from vrx.model.content import Checksum, Content, Fact, MapFile, ProductContent
from vrx.reports.html.findings import needs_a_look
from vrx.reports.html.tree import element, facts_list, sentences, table

_TRUE, _SHEET = "True ground (geodesic)", "Map sheet (grid)"
_MOST_OPEN = 20


def summary_section(content: Content) -> Element:
    """Return what is to be treated, each product's total, and what needs a look."""
    treated = content.areas[-1]
    sheet = f", {treated.sheet} on the map sheet (grid)" if treated.sheet else ""
    products = (_product_line(at, one) for at, one in enumerate(content.products, start=1))
    return element(
        "section",
        element("h2", "Summary"),
        element("p", f"{treated.label}: ", element("strong", treated.true), f" of true ground (geodesic){sheet}."),
        table(
            ("Product", "What it is", "Treated", "Total given", "The same in other units"),
            products,
            caption="Each product's ground and total",
            numbers=(2, 3),
            class_="summary",
        ),
        element("p", _files_sentence(content)),
        element("h3", "What needs a look"),
        needs_a_look(content.findings),
        id="summary",
    )


def areas_section(content: Content) -> Element:
    """Return every area in both ways, and why they differ."""
    lines = [(one.label, one.true, one.sheet or "–") for one in content.areas]
    for one in content.products:
        lines.append((f"Treated with {one.name}", one.true_area, one.sheet_area))
        if one.product_area:
            lines.append((f"Of that, what gets {one.name}: {one.share} of the width", one.product_area, "–"))
    return element(
        "section",
        element("h2", "Areas, and why there are two"),
        table(("Ground", _TRUE, _SHEET), lines, caption="Areas", numbers=(1, 2)),
        sentences(content.area_notes),
        facts_list([(one.label, one.value) for one in content.crs]),
        id="areas",
    )


def settings_section(products: Sequence[ProductContent]) -> Element:
    """Return what to set for each product."""
    return element(
        "section",
        element("h2", "What to set"),
        (
            element("article", element("h3", one.name), element("p", _kind(one)), _facts(one.settings))
            for one in products
        ),
        id="settings",
    )


def keep_outs_section(content: Content) -> Element:
    """Return the ground where products may not go."""
    made = element("section", element("h2", "Keep-outs"), id="keep-outs")
    if not content.keep_outs:
        made.append(element("p", "There are none."))
        return made
    rows = [(one.name, one.binds, one.set_back or "none", one.area) for one in content.keep_outs]
    words = "Ground where a product may not go; the set-back is part of the area."
    made.append(element("p", words))
    made.append(
        table(("Keep-out", "Holds for", "Set-back", "True ground"), rows, caption="Keep-outs", numbers=(3,)),
    )
    return made


def machine_section(facts: Sequence[Fact]) -> Element | None:
    """Return the machine; None where the plan says nothing of it."""
    return element("section", element("h2", "Machine"), _facts(facts), id="machine") if facts else None


def limits_section(content: Content) -> Element | None:
    """Return what the receiver can load beside what the maps need; None where no map was laid out."""
    if not content.limits:
        return None
    rows = [(one.limit, one.needed, one.allowed) for one in content.limits]
    head = ("What", "This map needs", "The receiver takes at most")
    return element(
        "section",
        element("h2", "Limits of the receiver"),
        element("p", "The receiver is whatever has to load the map."),
        _long(table(head, rows, caption="Limits of the receiver", numbers=(1, 2)), len(rows), "limits"),
        id="limits",
    )


def files_section(content: Content) -> Element:
    """Return the map files, and which column and unit to choose in them."""
    made = element("section", element("h2", "Files to load"), id="files")
    if not any(one.files for one in content.products):
        made.append(element("p", _files_sentence(content)))
        return made
    rows = [_file_line(product, one) for product in content.products for one in product.files]
    made.append(
        element("p", "Load one format of each map. The code at the end of a name stands for the contents of the file.")
    )
    made.append(
        table(
            ("Product", "Column to choose", "Unit to choose", "Code", "Format", "File", "Has to lie beside it"),
            rows,
            caption="Map files",
        )
    )
    return made


def cautions_section(cautions: Sequence[str]) -> Element | None:
    """Return the usual cautions; None where there are none."""
    return element("section", element("h2", "Cautions"), sentences(cautions), id="cautions") if cautions else None


def reproduce_section(content: Content) -> Element:
    """Return how to make the same build again, and the checksums to compare."""
    return element(
        "section",
        element("h2", "How to make it again"),
        sentences(content.reproduce),
        _checksums("Inputs", content.inputs),
        _checksums("Outputs", content.outputs),
        id="reproduce",
    )


def _product_line(number: int, product: ProductContent) -> tuple[Element | str, ...]:
    name = element("a", product.name, href=f"#map-{number}")
    others = ", ".join(product.other_units) or "–"
    ground = f"{product.true_area} of the field, {product.product_area} of this product"
    treated = ground if product.product_area else product.true_area
    return name, product.kind, treated, element("strong", product.total), others


def _files_sentence(content: Content) -> str:
    if content.stopped:
        return "No map files were written: a finding marked Stop has to be settled first."
    names = {one.name for product in content.products for one in product.files}
    if not names:
        return "No map files were written."
    return f"Written and read back: {len(names)} map file{'s' * (len(names) != 1)}."


def _file_line(product: ProductContent, one: MapFile) -> tuple[Element | str, ...]:
    beside = ", ".join(_ending(name, one.name) for name in one.beside) or "–"
    name, code = element("code", one.name), element("code", one.code)
    return product.name, element("code", product.column), product.written_unit, code, one.format, name, beside


def _ending(name: str, beside: str) -> str:
    """Return the ending alone of a file that is named like the one that it belongs to."""
    stem, _, ending = name.rpartition(".")
    return f".{ending}" if stem == beside.rpartition(".")[0] else name


def _kind(product: ProductContent) -> str:
    return f"{product.kind[:1].upper()}{product.kind[1:]}. Rates it can be given at: {product.allowed}."


def _facts(facts: Sequence[Fact]) -> Element | None:
    return facts_list([(one.label, one.value) for one in facts])


def _checksums(title: str, files: Sequence[Checksum]) -> Element:
    made = element("article", element("h3", title))
    if not files:
        made.append(element("p", "None."))
        return made
    rows = [(element("code", one.path), element("code", one.sha256)) for one in files]
    boxed = table(("File", "SHA-256"), rows, caption=f"Checksums of {title.lower()}", class_="checksums")
    made.append(_long(boxed, len(rows), "checksums"))
    return made


def _long(boxed: Element, count: int, word: str) -> Element:
    return element("details", element("summary", f"Show all {count} {word}"), boxed) if count > _MOST_OPEN else boxed
