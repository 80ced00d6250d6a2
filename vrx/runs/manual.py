"""The manual of findings: pages from rules and readers, with the titles that reports use."""

from __future__ import annotations

from collections.abc import Sequence

from vrx.checks.manual import manual as pages_of
from vrx.checks.pages import PAGES
from vrx.errors import InputError
from vrx.model.manual import ManualPage
from vrx.reports.finding_titles import TITLES
from vrx.words import nearest


def manual() -> tuple[ManualPage, ...]:
    """Return the pages of all findings: those of a check in its order, then the others by their ids."""
    return pages_of(TITLES, PAGES)


def page_of(finding_id: str, pages: Sequence[ManualPage]) -> ManualPage:
    """Return the page of a finding.

    Raises
    ------
    InputError
        There is no finding of that id.
    """
    wanted = finding_id.strip().lower()
    for one in pages:
        if one.id == wanted:
            return one
    raise InputError(
        f"There is no finding {finding_id!r}.",
        remedy=f"{nearest(wanted, [one.id for one in pages])}vrx explain alone lists all of them.",
    )
