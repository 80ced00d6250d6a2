"""The page of a check: one HTML file that says whether the map may be loaded, what to do first, and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import Final
from xml.etree.ElementTree import Element

from vrx.model.check import Check
from vrx.model.content import Content, FindingContent, ProductContent, RowContent
from vrx.model.finding import Severity
from vrx.reports.check_content import NO_RATE
from vrx.reports.check_words import (
    NO_REMEDY,
    column_words,
    next_step,
    not_looked_at,
    purpose_words,
    range_words,
    unit_words,
    unknown_words,
    verdict_words,
)
from vrx.reports.finding_titles import TITLES
from vrx.reports.html.findings import findings_section, needs_a_look, notes_line
from vrx.reports.html.map import draw_maps, map_of, picture, signs_of
from vrx.reports.html.marks import badge, class_swatch, clear_badge
from vrx.reports.html.report import contents_of, head_of
from vrx.reports.html.sections import cautions_section
from vrx.reports.html.tree import element, facts_list, page, sentences, table, table_row
from vrx.reports.maps.ground import opacity_of
from vrx.words import some

_HEADS: Final[dict[Severity, str]] = {
    "stop": "Stop: the map may not be loaded until these are settled",
    "caution": "Caution: look at these before you load it",
    "note": "Note: good to know",
}
_MOST_STEPS: Final = 6
_MOST_LINKS: Final = 5
_MOST_OPEN: Final = 40


def check_html(check: Check, content: Content) -> bytes:
    """Return the page of a check, a self-contained HTML file in UTF-8; the same bytes for the same check.

    Parameters
    ----------
    content : Content
        What :func:`vrx.reports.check_content.check_content` gathered from it.
    """
    title = f"Check of {content.title}"
    head = head_of(content, title=title, running=f"{title}: {check.verdict}")
    return page(element("html", head, _body(check, content), lang="en"))


def _body(check: Check, content: Content) -> Element:
    made = [
        _map_section(check, content),
        findings_section(content.findings, partial(map_of, content), _HEADS),
        _unseen_section(check),
        _rates_section(content),
        _areas_section(content),
        _read_section(check, content),
        cautions_section(content.cautions),
    ]
    sections = [one for one in made if one is not None]
    return element(
        "body",
        element("a", "Skip to what was found", href="#findings", class_="skip"),
        _header(check, content),
        # Who stands at the field's edge with a phone reads the verdict and this, and nothing has to be scrolled for it.
        element("main", _first_section(check, content), contents_of(sections), sections),
        element("footer", element("p", f"Made by {content.written_by}.")),
    )


def _header(check: Check, content: Content) -> Element:
    # The mark says the first word.
    words = verdict_words(check)[len(check.verdict) :]
    mark = clear_badge() if check.verdict == "clear" else badge(check.verdict)
    purpose = purpose_words(check.on)
    return element(
        "header",
        element("p", "Check of a map", class_="kind"),
        element("h1", content.title),
        element("p", mark, element("strong", words), class_=f"verdict {check.verdict}"),
        element("p", purpose) if purpose else None,
    )


def _first_section(check: Check, content: Content) -> Element:
    return element("section", element("h2", "What to do first"), _first(check, content), id="first")


def _first(check: Check, content: Content) -> Iterator[Element]:
    if check.verdict == "stop":
        yield element("p", element("strong", "Do not load it."), " Settle this first:")
        yield from _steps(content.findings, "stop")
        yield element("p", "Then check the map again.")
    elif check.verdict == "caution":
        yield element(
            "p", element("strong", "Look at each of these"), ", and load the map where you know why it is so:"
        )
        yield from _steps(content.findings, "caution")
    if check.verdict != "stop":
        yield from _load(check, content)
    elif cautions := [one for one in content.findings if one.severity == "caution"]:
        yield element("p", "Look at these too:")
        yield from needs_a_look(cautions)
    if notes := sum(one.severity == "note" for one in content.findings):
        yield notes_line(notes)
    if unknown_words(check.on) and check.verdict != "stop":
        yield element(
            "p", f"Not all could be looked at, with {unknown_words(check.on)}: see ",
            _link("what could not be looked at", "unseen"), ".",
        )  # fmt: skip


def _steps(findings: Sequence[FindingContent], severity: Severity) -> Iterator[Element]:
    """Yield what to do about the findings of one severity, once for those that ask for the same."""
    groups: dict[tuple[str, str], list[FindingContent]] = {}
    for one in findings:
        if one.severity == severity:
            groups.setdefault((one.title, one.remedy or NO_REMEDY), []).append(one)
    steps = list(groups.items())
    yield element("ol", (_step(title, remedy, group) for (title, remedy), group in steps[:_MOST_STEPS]), class_="steps")
    if len(steps) > _MOST_STEPS:
        yield element("p", f"And {len(steps) - _MOST_STEPS} more: see ", _link("what was found", "findings"), ".")


def _step(title: str, remedy: str, group: Sequence[FindingContent]) -> Element:
    links = [element("a", str(one.number), href=f"#finding-{one.number}") for one in group[:_MOST_LINKS]]
    more = f" and {len(group) - _MOST_LINKS} more" if len(group) > _MOST_LINKS else ""
    linked: list[Element | str] = [links[0]]
    for link in links[1:]:
        linked += [", ", link]
    return element("li", element("strong", f"{title}."), f" {remedy} See ", linked, f"{more}.")


def _load(check: Check, content: Content) -> Iterator[Element]:
    """Yield how to load it, and what the display has to show then."""
    on = check.on
    if check.verdict == "clear":
        yield element("p", element("strong", next_step(check)))
    if on.rates is not None and on.shapes is not None:
        unit = f" and the unit {on.rates.unit_name}" if on.rates.unit_name else ""
        yield element(
            "p", f"On the display choose the column {on.rates.column}{unit}. It then has to show rates of "
            f"{range_words(on)}, on {content.products[0].true_area}.",
        )  # fmt: skip


def _map_section(check: Check, content: Content) -> Element | None:
    if not content.products:
        return None
    product, (drawing,) = content.products[0], draw_maps(content)
    hint = "Point at a shape, or tap it, to see its rate here. With the keyboard: Tab, then arrow keys."
    legend = (_legend(content, product), element("ul", signs_of(content, product), class_="signs"))
    elsewhere = "The field is not on this picture: the map lies elsewhere."
    return element(
        "section",
        element("h2", "The map"),
        element(
            "article",
            element("p", product.sums),
            element("p", elsewhere) if check.on.ground is not None and not content.boundary else None,
            element(
                "div",
                element("figure", picture(content, product, drawing, _row_words), class_="map"),
                element("div", element("p", hint, class_="hint"), class_="readout", aria_live="polite", hidden=""),
                element("div", legend, class_="legend"),
                class_="map-and-key",
            ),
            id="map-1",
            class_="product",
            data_map=1,
            data_table="table of rates",
        ),
        id="maps",
    )


def _legend(content: Content, product: ProductContent) -> Element:
    opacity = opacity_of(content)
    rows = [
        (element("span", class_swatch(one, opacity), " ", "0 (off)" if one.rate == "0" else one.rate), one.area,
         one.share)
        for one in reversed(product.classes)
    ]  # fmt: skip
    return table(
        (("Rate", product.unit), ("Ground", content.area_unit), "Share"),
        rows,
        caption="Rates on the map",
        numbers=(1, 2),
    )


def _row_words(content: Content, product: ProductContent, row: RowContent) -> str:
    name = f"{row.zone}: " if row.zone else ""
    return f"{name}{_rate_words(row, product)}\n{row.true_area} {content.area_unit}"


def _rate_words(row: RowContent, product: ProductContent) -> str:
    return f"{row.given} {product.unit}".rstrip() if row.given != NO_RATE else NO_RATE


def _unseen_section(check: Check) -> Element:
    made = element("section", element("h2", "What could not be looked at"), id="unseen")
    groups = not_looked_at(check)
    if not groups:
        made.append(element("p", "Every rule could look."))
        return made
    made.append(element("p", "Nothing is said about these, neither good nor bad."))
    made.append(element("dl", (_unseen(why, ids) for why, ids in groups), class_="unseen"))
    return made


def _unseen(why: str, ids: Sequence[str]) -> Element:
    items = [element("li", TITLES.get(one, one), " ", element("code", one)) for one in ids]
    words = f"{len(ids)} thing{'s'[: len(ids) != 1]} not looked for"
    listed = element("details", element("summary", words), element("ul", items))
    return element("div", element("dt", why), element("dd", listed))


def _rates_section(content: Content) -> Element | None:
    """Return the table that the map tells from; its rows are records, or rates where there are many records."""
    if not content.products:
        return None
    product = content.products[0]
    area, by_record = ("True ground", content.area_unit), all(row.zone for row in product.rows)
    rate = ("Rate", product.unit)
    head: list[str | tuple[str, str]] = ["Record", rate, area] if by_record else [rate, area, "Records"]
    if by_record and any(row.inputs for row in product.rows):
        head.append("Findings")
    boxed = table(
        head,
        (_rate_row(at, row, len(head), by_record=by_record) for at, row in enumerate(product.rows)),
        caption="Rates of the map",
        numbers=(1, 2),
    )
    if len(product.rows) > _MOST_OPEN:
        boxed = element("details", element("summary", f"Show all {len(product.rows):,} lines"), boxed)
    return element("section", element("h2", "Rates, line by line"), boxed, id="rates")


def _rate_row(at: int, row: RowContent, count: int, *, by_record: bool) -> Element:
    link = element("a", row.zone or row.given, href="#map-1", data_row=at)
    cells = (link, row.given, row.true_area, row.inputs) if by_record else (link, row.true_area, row.inputs)
    return table_row(cells[:count], (1, 2), id=f"row-1-{at}")


def _areas_section(content: Content) -> Element | None:
    if not content.areas:
        return None
    lines = [(one.label, one.true, one.sheet or "–") for one in content.areas]
    head = ("Ground", "True ground (geodesic)", "On the map's own sheet")
    return element(
        "section",
        element("h2", "Areas"),
        table(head, lines, caption="Areas", numbers=(1, 2)),
        sentences(content.area_notes),
        id="areas",
    )


def _read_section(check: Check, content: Content) -> Element:
    on = check.on
    failed = [f"{one.problem} {one.remedy}".strip() for one in on.failures]
    rows = [(element("code", one.path), element("code", one.sha256)) for one in content.inputs]
    return element(
        "section",
        element("h2", "What was read, and what it was checked against"),
        element("p", "The map could not be read:") if failed else None,
        sentences(failed),
        facts_list([(label, value) for label, value in _facts(check, content) if value]),
        table(("File", "SHA-256"), rows, caption="Checksums", class_="checksums") if rows else None,
        id="read",
    )


def _facts(check: Check, content: Content) -> Iterator[tuple[str, str]]:
    on = check.on
    yield from ((one.label, one.value) for one in content.facts)
    yield "Place", content.place
    if on.layer is not None:
        yield "Records", f"{len(on.layer.records):,}"
    yield from ((one.label, one.value) for one in content.crs)
    if on.rates is not None:
        yield "Rates", range_words(on)
        yield "Column", column_words(on.rates)
        yield "Unit", unit_words(on.rates).removeprefix("in ").removeprefix("and ")
    elif on.layer is not None:
        yield "Columns that may hold rates", some(one.name for one in on.candidates) or "none"
    if on.built_as is not None:
        same = "" if on.built_as.by == "checksum" else ", changed since"
        yield "Built with", f"{on.built_as.bundle}{same}"
    for key, value in on.file_says.items():
        yield f"The file says of the {key}", value


def _link(words: str, section: str) -> Element:
    return element("a", words, href=f"#{section}")
