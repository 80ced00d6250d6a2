"""The manual of findings as text for a terminal, as JSON, and as a page of the docs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from vrx.model.manual import SUBJECTS, ManualPage
from vrx.reports.terminal import wrapped

_AS_TOLD: Final = "as the message says"
_ALONE: Final = "nothing"
_HEAD: Final = """\
# What is found, by id

<!-- Made from the code by `vrx.reports.manual_text.findings_page`; a test says when it is stale. -->

Every finding has an id that stays the same for ever, so that an office can gate on it and a report can be searched.
`vrx explain ID` prints the whole page of one: why it matters in the field, and how to put it right.

* `stop`: the map may not be loaded, or nothing is written, until it is settled.
* `caution`: a person looks before going on.
* `note`: good to know.

Where several stand, how much ground or how large a share is concerned decides; the message says which it is.
"""


def page_text(page: ManualPage) -> str:
    """Return one page as people read it in a terminal."""
    lines = [f"{page.id}: {page.title}", *wrapped(page.sentence), ""]
    lines += wrapped(f"How grave: {grave_words(page)}.")
    if page.needs:
        lines += wrapped(f"To look for it, a check has to know {_listed(page.needs)}.")
    for head, text in (("Why it matters", page.why), ("How to put it right", page.how), ("Source", page.source)):
        if text:
            lines += ["", *wrapped(f"{head}: {text}")]
    return "\n".join(lines) + "\n"


def list_text(pages: Sequence[ManualPage]) -> str:
    """Return all ids with their titles, by subject."""
    width = max((len(one.id) for one in pages), default=0)
    lines = []
    for subject, title in SUBJECTS.items():
        mine = [one for one in pages if one.subject == subject]
        if mine:
            lines += [title, *(f"  {one.id:<{width}}  {one.title}" for one in mine), ""]
    return "\n".join([*lines, "vrx explain ID tells what one means."]) + "\n"


def manual_json(page: ManualPage) -> dict[str, object]:
    """Return one page; ``severities`` is empty where each message says how grave it is."""
    return {
        "id": page.id,
        "title": page.title,
        "subject": page.subject,
        "severities": list(page.severities),
        "needs": list(page.needs),
        "sentence": page.sentence,
        "why": page.why,
        "how": page.how,
        "source": page.source,
    }


def findings_page(pages: Sequence[ManualPage]) -> str:
    """Return the page of the docs as Markdown: a table for each subject of a check, then all other ids."""
    parts = [_HEAD]
    for subject, title in SUBJECTS.items():
        mine = [one for one in pages if one.subject == subject]
        if mine:
            parts += [f"\n## {title}\n", *(_checked(mine) if subject != "building" else _others(mine))]
    return "\n".join(parts) + "\n"


def grave_words(page: ManualPage) -> str:
    """Return how grave a finding can be."""
    return _listed(page.severities, "or") or _AS_TOLD


def _checked(pages: Sequence[ManualPage]) -> Iterator[str]:
    yield "| id | how grave | what is found | what has to be known beside the map |"
    yield "|---|---|---|---|"
    for one in pages:
        yield f"| `{one.id}` | {grave_words(one)} | {_cell(one.sentence)} | {_listed(one.needs) or _ALONE} |"


def _others(pages: Sequence[ManualPage]) -> Iterator[str]:
    yield "How grave these are, each message says itself.\n"
    yield "| id | title | what is found |"
    yield "|---|---|---|"
    for one in pages:
        yield f"| `{one.id}` | {_cell(one.title)} | {_cell(one.sentence)} |"


def _listed(words: Sequence[str], last: str = "and") -> str:
    return f"{', '.join(words[:-1])} {last} {words[-1]}" if len(words) > 1 else "".join(words)


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
