"""Findings in the report: each with a shape and a word for how grave it is, and tied to its place on the map."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Final
from xml.etree.ElementTree import Element

from vrx.model.content import FindingContent
from vrx.model.finding import Severity
from vrx.reports.html_tree import element, extend

# A word and an outline for each severity, so that nothing rests on colour.
WORDS: Final[dict[Severity, str]] = {"stop": "Stop", "caution": "Caution", "note": "Note"}
_OUTLINES: Final[dict[Severity, str]] = {
    "stop": "M6 1h8l5 5v8l-5 5h-8l-5-5v-8z",
    "caution": "M10 1.5l9 17h-18z",
    "note": "M10 1a9 9 0 1 1 0 18a9 9 0 1 1 0-18z",
}
_SIGNS: Final[dict[Severity, str]] = {
    "stop": "M5 8.4h10v3.2h-10z",
    "caution": "M9 7.2h2v5.6h-2zM9 14.2h2v2.2h-2z",
    "note": "M9 4.6h2v2.2h-2zM9 8.4h2v7h-2z",
}
_SECTIONS: Final[dict[Severity, str]] = {
    "stop": "Stop: nothing is written until these are settled",
    "caution": "Caution: look at these before you go on",
    "note": "Note: good to know",
}
_MOST_NOTES = 8

MapOf = Callable[[FindingContent], int | None]


def findings_section(findings: Sequence[FindingContent], map_of: MapOf) -> Element:
    """Return all findings, the worst first.

    Parameters
    ----------
    map_of : callable
        The index of the product on whose map a finding can be seen; None where it is on none.
    """
    made = element("section", element("h2", "What was found"), id="findings")
    if not findings:
        made.append(element("p", "Nothing to look at: no findings."))
    for severity in WORDS:
        mine = [one for one in findings if one.severity == severity]
        if not mine:
            continue
        listed = element("ol", (_item(one, map_of(one)) for one in mine), class_="findings")
        made.append(element("h3", f"{_SECTIONS[severity]} ({len(mine)})"))
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
        words = "1 note is" if notes == 1 else f"{notes} notes are"
        made.append(element("p", f"{words} good to know: see ", element("a", "what was found", href="#findings"), "."))
    return made


def badge(severity: Severity, *, word: bool = True) -> Element:
    """Return a severity's shape, and its word."""
    return element(
        "span",
        element(
            "svg",
            element("path", d=_OUTLINES[severity], class_="outline"),
            element("path", d=_SIGNS[severity], class_="sign"),
            viewBox="0 0 20 20",
            width=20,
            height=20,
            aria_hidden="true",
        ),
        element("b", WORDS[severity]) if word else None,
        class_=f"badge {severity}",
    )


def _look(group: Sequence[FindingContent]) -> Element:
    """Return a line for findings of one title: the title once, and a link to each."""
    first = group[0]
    line = element("li", badge(first.severity), " ", f"{first.title}: ")
    for at, one in enumerate(group):
        about = ", ".join(_about(one))
        link = element("a", f"{one.number} ({about})" if about else str(one.number), href=f"#finding-{one.number}")
        extend(line, [", " if at else None, link])
    return line


def _item(one: FindingContent, on_map: int | None) -> Element:
    about = "" if one.product and one.message.startswith(one.product) else ", ".join(_about(one))
    return element(
        "li",
        element(
            "p",
            badge(one.severity),
            " ",
            element("span", str(one.number), class_="mark", title=f"Finding {one.number}"),
            " ",
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
