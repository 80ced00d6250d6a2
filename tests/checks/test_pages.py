"""Pages of findings: each has its four parts, names sources that exist, and explains a finding that there is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from vrx.checks.catalog import SEVERITIES
from vrx.checks.pages import PAGES, merged
from vrx.cli.main import main
from vrx.model.plan_schema import plan_schema
from vrx.reports.finding_titles import TITLES

DOCS = Path(__file__).resolve().parents[2] / "docs"
HEADS = ("Why it matters:", "How to put it right:", "Source:")
LONGEST_LINE = 100
MOST_OF_WHY = 2
SENTENCE_END = re.compile(r"[.!?](?:\s|$)")
NO_SOURCE = "common practice, no source"
COMMANDS = re.compile(r"\bvrx ([a-z]+)")
OPTIONS = re.compile(r"(?<!\S)(--[a-z][a-z-]*)")

every_page = pytest.mark.parametrize("finding", [pytest.param(one, id=one) for one in PAGES])


def paragraphs(finding: str) -> list[str]:
    return PAGES[finding].removesuffix("\n").split("\n\n")


@every_page
def test_a_page_has_its_four_parts_in_order(finding: str) -> None:
    """One paragraph each: a sentence, why in two at most, how, and source, each with something in it."""
    sentence, *others = paragraphs(finding)
    assert [one.partition(":")[0] + ":" for one in others] == list(HEADS)
    assert all(one.partition(":")[2].strip().endswith(".") for one in others)
    assert sentence.endswith(".")
    assert len(SENTENCE_END.findall(sentence)) == 1
    assert len(SENTENCE_END.findall(others[0])) <= MOST_OF_WHY
    assert all(PAGES[finding].count(head) == 1 for head in HEADS)


@every_page
def test_lines_fit_a_terminal(finding: str) -> None:
    """None is longer than 100 characters, or ends in blanks; none is broken in the middle of a paragraph."""
    lines = PAGES[finding].split("\n")
    assert max(map(len, lines)) <= LONGEST_LINE
    assert all(line == line.strip() for line in lines)
    assert all(paragraphs(finding))


@every_page
def test_every_source_is_there(finding: str) -> None:
    """Each is a key of docs/sources.md, a page of docs/decisions, or said to be common practice without one."""
    listed = set(re.findall(r"(?m)^\| ([\w.-]+) \|", (DOCS / "sources.md").read_text(encoding="utf-8")))
    said = " ".join(paragraphs(finding)[-1].removeprefix("Source:").split()).removesuffix(".")
    for one in said.split("; "):
        key = one.partition(", ")[0]
        if key.startswith("docs/"):
            assert key.startswith("docs/decisions/"), one
            assert (DOCS.parent / key).is_file(), one
        else:
            assert one.startswith(NO_SOURCE) or key in listed - {"key"}, one


@every_page
def test_every_command_and_option_that_a_page_names_is_there(finding: str, capsys: pytest.CaptureFixture[str]) -> None:
    """As the command line's own help says."""
    text = " ".join(PAGES[finding].split())
    ended = {name: main([name, "--help"]) for name in COMMANDS.findall(text)}
    assert set(ended.values()) <= {0}
    assert set(OPTIONS.findall(text)) <= set(re.findall(r"--[a-z][a-z-]*", capsys.readouterr().out))


def test_keys_of_the_plan_that_pages_name_are_there() -> None:
    """Whatever stands as a word with an underscore, or before an equals sign, is a key of the plan."""
    keys = plan_keys(plan_schema())
    assert {"set_back", "off_allowed", "thin_parts"} <= keys
    named = {
        (finding, word)
        for finding, page in PAGES.items()
        for word in [*re.findall(r"\b[a-z]+_[a-z_]+\b", page), *re.findall(r"\b([a-z]+) = ", page)]
    }
    assert len(named) > 10
    assert {(finding, word) for finding, word in named if word not in keys} == set()


def plan_keys(schema: object) -> set[str]:
    """Return all names of properties within a JSON Schema."""
    if isinstance(schema, list):
        return set().union(*map(plan_keys, schema))
    if not isinstance(schema, dict):
        return set()
    own = schema.get("properties")
    return (set(own) if isinstance(own, dict) else set()).union(*map(plan_keys, schema.values()))


def test_every_page_explains_a_finding_that_no_rule_of_a_check_gives() -> None:
    """Each id has a title; what a check gives is explained where it is looked for."""
    assert PAGES.keys() <= TITLES.keys()
    assert not PAGES.keys() & SEVERITIES.keys()


def test_every_finding_is_explained() -> None:
    """By a page, or it is one that a check gives, whose rule explains it."""
    assert TITLES.keys() - PAGES.keys() - SEVERITIES.keys() == set()


def test_the_same_finding_is_not_explained_twice() -> None:
    """Neither in two themes, nor silently by the later one."""
    assert merged({"gap": "one"}, {"overlap": "two"}) == {"gap": "one", "overlap": "two"}
    with pytest.raises(ValueError, match="explained twice: gap"):
        merged({"gap": "one", "overlap": "two"}, {"gap": "three"})
