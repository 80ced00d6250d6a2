"""Pages for findings that no rule of a check gives: readers, the build and the copying tell them.

A page is plain text in four parts, as the docstring of a rule is: what the finding means, why it matters, how to put
it right, and where the rule comes from.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from vrx.checks.pages import files, ground, papers, rates, sticks


def merged(*themes: Mapping[str, str]) -> dict[str, str]:
    """Return the pages of all themes by id, in order.

    Raises
    ------
    ValueError
        Two of them explain the same finding.
    """
    pages: dict[str, str] = {}
    for theme in themes:
        doubled = pages.keys() & theme.keys()
        if doubled:
            raise ValueError(f"explained twice: {', '.join(sorted(doubled))}")
        pages |= theme
    return pages


PAGES: Final[dict[str, str]] = merged(files.PAGES, ground.PAGES, rates.PAGES, papers.PAGES, sticks.PAGES)
