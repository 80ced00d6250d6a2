"""The report as one HTML file: it needs no network, and prints."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from functools import partial
from hashlib import sha256
from importlib.resources import files
from xml.etree.ElementTree import Element

from vrx.model.content import Content
from vrx.reports.html.findings import findings_section
from vrx.reports.html.ledger import how_section, ledgers_section
from vrx.reports.html.map import draw_maps, map_of, maps_section
from vrx.reports.html.marks import badge
from vrx.reports.html.order import loads_section, order_section
from vrx.reports.html.sections import (
    areas_section,
    cautions_section,
    files_section,
    keep_outs_section,
    limits_section,
    machine_section,
    reproduce_section,
    settings_section,
    summary_section,
)
from vrx.reports.html.tree import element, facts_list, page

_PAPERS = {"letter": "letter", "a4": "A4"}
_RUNNING = {"Season", "Date", "Revision"}  # at the foot of every printed page, behind the field's name


def report_html(content: Content) -> bytes:
    """Return the report of a build, a self-contained HTML file in UTF-8; the same bytes for the same content.

    What comes from files is text in it and nothing else: the policy in its head forbids every script and style but
    its own, and every request.
    """
    title = f"{content.title}: prescription report"
    told = [f"{one.label} {one.value}" for one in content.facts if one.label in _RUNNING]
    head = head_of(content, title=title, running=", ".join([content.title, *told]))
    return page(element("html", head, _body(content), lang="en"))


def head_of(content: Content, *, title: str, running: str) -> Element:
    """Return the head of a page: its style and script, and the policy that forbids all others.

    Parameters
    ----------
    running : str
        What stands at the foot of every printed page.
    """
    style, script = _style(content, running), _script()
    # Nothing may be fetched or run but what stands here; a picture behind the map is part of the file.
    policy = (
        f"default-src 'none'; style-src '{_checksum(style)}'; script-src '{_checksum(script)}'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
    return element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", http_equiv="Content-Security-Policy", content=policy),
        element("title", title),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="generator", content=content.written_by),
        element("link", rel="icon", href="data:,"),  # else a browser asks a server for one
        element("style", style),
        element("script", script),
    )


def _body(content: Content) -> Element:
    drawings = draw_maps(content)
    made = [
        summary_section(content),
        maps_section(content, drawings),
        findings_section(content.findings, partial(map_of, content)),
        ledgers_section(content),
        how_section(content.products),
        order_section(content),
        loads_section(content.products),
        areas_section(content),
        settings_section(content.products),
        keep_outs_section(content),
        machine_section(content.machine),
        limits_section(content),
        files_section(content),
        cautions_section(content.cautions),
        reproduce_section(content),
    ]
    sections = [one for one in made if one is not None]
    return element(
        "body",
        element("a", "Skip to the maps", href="#maps", class_="skip"),
        _header(content),
        contents_of(sections),
        element("main", sections),
        element("footer", element("p", f"Made by {content.written_by}.")),
    )


def _header(content: Content) -> Element:
    stopped = "no map files were written, a finding has to be settled first."
    facts = [(one.label, one.value) for one in content.facts]
    return element(
        "header",
        element("p", "Prescription report", class_="kind"),
        element("h1", content.title),
        element("p", badge("stop"), ": ", element("strong", stopped), class_="stopped") if content.stopped else None,
        facts_list([*facts, ("Place", content.place)]),
        element("p", content.replaces) if content.replaces else None,
        element("p", element("b", "Notes for the operator: "), content.notes, class_="notes")
        if content.notes
        else None,
    )


def contents_of(sections: Sequence[Element]) -> Element:
    """Return links to the sections of a page, by their headings."""
    items = [element("li", element("a", section.findtext("h2"), href=f"#{section.get('id')}")) for section in sections]
    return element("nav", element("ul", items), aria_label="Contents")


def _style(content: Content, running: str) -> str:
    words = _css_text(running)
    paged = f'@page {{ size: {_PAPERS[content.paper]}; @bottom-left {{ content: "{words}" }} }}'
    return f"{_packaged('report.css')}{paged}\n"


def _script() -> str:
    return _packaged("report.js")


def _packaged(name: str) -> str:
    return files("vrx.reports.html").joinpath(name).read_text(encoding="utf-8")


def _css_text(text: str) -> str:
    """Return text for a string of CSS, every character that is not plain as its escape."""
    return "".join(one if one.isascii() and one.isalnum() else f"\\{ord(one):06x}" for one in text)


def _checksum(text: str) -> str:
    return f"sha256-{b64encode(sha256(text.encode()).digest()).decode()}"
