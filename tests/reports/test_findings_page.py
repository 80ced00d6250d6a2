"""The page of the docs that lists all findings."""

from __future__ import annotations

from conftest import ROOT

from vrx.reports.manual_text import findings_page
from vrx.runs.manual import manual


def test_the_page_in_the_docs_is_not_stale() -> None:
    """docs/findings.md is what the code says today; write it anew with `findings_page(manual())` where this fails."""
    assert (ROOT / "docs" / "findings.md").read_text(encoding="utf-8") == findings_page(manual())


def test_every_finding_has_a_row() -> None:
    """By its id, once."""
    page = findings_page(manual())
    for one in manual():
        assert page.count(f"| `{one.id}` |") == 1
