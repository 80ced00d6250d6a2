"""Findings in the report: each with a shape and a word for how grave it is, and tied to its place on the map."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final
from xml.etree.ElementTree import Element

from vrx.model.content import FindingContent
from vrx.model.finding import Severity
from vrx.reports.html.marks import WORDS, badge, numbered
from vrx.reports.html.tree import element, extend

_SECTIONS: Final[dict[Severity, str]] = {
    "stop": "Stop: nothing is written until these are settled",
    "caution": "Caution: look at these before you go on",
    "note": "Note: good to know",
}
_MOST_NOTES = 8

MapOf = Callable[[FindingContent], int | None]


def findings_section(
    findings: Sequence[FindingContent], map_of: MapOf, heads: Mapping[Severity, str] = _SECTIONS
) -> Element:
    """Return all findings, the worst first.

    Parameters
    ----------
    map_of : callable
        The index of the product on whose map a finding can be seen; None where it is on none.
    heads : mapping of str to str
        What each severity asks for.
    """
    made = element("section", element("h2", "What was found"), id="findings")
    if not findings:
        made.append(element("p", "Nothing to look at: no findings."))
    for severity in WORDS:
        mine = [one for one in findings if one.severity == severity]
        if not mine:
            continue
        listed = element("ol", (_item(one, map_of(one)) for one in mine), class_="findings")
        made.append(element("h3", f"{heads[severity]} ({len(mine)})"))
        if severity == "note" and len(mine) > _MOST_NOTES:
            listed = element("details", element("summary", f"Show all {len(mine)} notes"), listed)
        made.append(listed)
    return made


def needs_a_look(findings: Sequence[FindingContent]) -> list[Element]:
    """Return the findings that hold up the work or should be looked at, as links, and how many notes there are."""
    grave = [one for one in findings if one.severity != "note"]
    notes = len(findings) - len(grave)
    made = []
    if grave:
        titles = dict.fromkeys((one.severity, one.title) for one in grave)
        groups = ([one for one in grave if (one.severity, one.title) == title] for title in titles)
        made.append(element("ul", (_look(group) for group in groups), class_="look"))
    elif findings:
        made.append(element("p", "Nothing needs a look."))
    else:
        made.append(element("p", "Nothing needs a look: no findings."))
    if notes:
        made.append(notes_line(notes))
    return made


def notes_line(count: int) -> Element:
    """Return how many notes there are, with a link to them."""
    words = "1 note is" if count == 1 else f"{count} notes are"
    return element("p", f"{words} good to know: see ", element("a", "what was found", href="#findings"), ".")


def _look(group: Sequence[FindingContent]) -> Element:
    """Return a line for findings of one title: the title once, and a link to each."""
    first = group[0]
    line = element("li", badge(first.severity), f": {first.title}:")
    for one in group:
        about = ", ".join(_about(one))
        link = element("a", f"{one.number} ({about})" if about else str(one.number), href=f"#finding-{one.number}")
        extend(line, [" ", link])
    return line


def _item(one: FindingContent, on_map: int | None) -> Element:
    about = "" if one.product and one.message.startswith(one.product) else ", ".join(_about(one))
    return element(
        "li",
        element(
            "p",
            numbered(one),
            ": ",
            element("strong", one.title),
            " ",
            element("code", one.id),
            class_="title",
        ),
        element("p", about, class_="about") if about else None,
        element("p", one.message),
        element("p", element("b", "What to do: "), one.remedy) if one.remedy else None,
        _place(one, on_map),
        id=f"finding-{one.number}",
        class_=f"finding {one.severity}",
        value=one.number,
        tabindex=-1,
    )


def _place(one: FindingContent, on_map: int | None) -> Element | None:
    if on_map is None:
        return None
    link = element("a", f"Show {one.number} on the map", href=f"#map-{on_map + 1}", data_show=one.number)
    return element("p", link, class_="place")


def _about(one: FindingContent) -> Iterable[str]:
    if one.product:
        yield one.product
    if one.zone:
        yield f"zone {one.zone}"
