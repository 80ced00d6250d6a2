"""The reference page of a plan's keys."""

from __future__ import annotations

from conftest import ROOT

from vrx.model.plan_schema import keys_of, whole_schema
from vrx.reports.plan_reference import plan_reference


def test_the_page_in_the_docs_is_not_stale():
    """docs/plan.md is what the model says today; write it anew with `plan_reference()` where this fails."""
    assert (ROOT / "docs" / "plan.md").read_text(encoding="utf-8") == plan_reference()


def test_the_page_has_every_key():
    """Each key has a row, and the way to a rate that a later version brings is named as not there yet."""
    page = plan_reference()
    schema = whole_schema()
    for name, node in {"Plan": schema, **schema["$defs"]}.items():
        if name != "RateNotYet":
            for key in keys_of(node):
                assert f"| `{key}` |" in page, f"{name}.{key}"
    later = page[page.index("## Not there yet") :]
    assert '`by = "method"`' in later


def test_every_row_says_what_to_write():
    """No key is left without words for what it accepts and what it is."""
    rows = [line for line in plan_reference().split("\n") if line.startswith("| `")]
    assert len(rows) > 80
    for row in rows:
        key, accepted, _, what = (cell.strip() for cell in row.strip("|").split("|"))
        assert accepted not in {"", "another value"}, key
        assert what, key
