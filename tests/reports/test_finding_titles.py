"""Every finding has a plain title, and every title a finding."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import vrx
from vrx.inputs import csv_table
from vrx.rates import missing, rated
from vrx.reports.finding_titles import TITLES, title_of

PACKAGE = Path(vrx.__file__).parent
# Ids that are not written where the finding is made: the tables that they come from.
FROM_TABLES = (
    {name for name, _ in rated._CHANGES.values()}
    | {name for name, _ in missing._KINDS.values()}
    | {csv_table._DECIMAL_COMMA, "tiny-part", "thin-part"}
)


def ids_in_the_code() -> set[str]:
    found = set(FROM_TABLES)
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in {"Finding", "Rule"}:
                (value,) = [keyword.value for keyword in node.keywords if keyword.arg == "id"]
                answers = [value.body, value.orelse] if isinstance(value, ast.IfExp) else [value]
                found |= {str(one.value) for one in answers if isinstance(one, ast.Constant)}
    return found


def test_every_finding_has_a_title_and_every_title_a_finding() -> None:
    """A finding without one could not be shown; a title without a finding is a leftover."""
    assert ids_in_the_code() == TITLES.keys()


def test_titles_are_plain_sentences() -> None:
    """A capital first, no full stop, no two alike, short enough for one line on a card."""
    for title in TITLES.values():
        assert re.fullmatch(r"[A-Z].{9,69}[^.]", title), title
    assert len(set(TITLES.values())) == len(TITLES)
    assert list(TITLES) == sorted(TITLES)
    assert title_of("gap") == TITLES["gap"]
