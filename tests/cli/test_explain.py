"""``vrx explain``: every finding has a page, and every page says what to do."""

from __future__ import annotations

import json
import re

import pytest

from vrx.checks.catalog import RULES, SEVERITIES
from vrx.checks.manual import parts_of, text_of
from vrx.cli.main import main
from vrx.reports.finding_titles import TITLES
from vrx.runs.manual import manual

Capture = pytest.CaptureFixture[str]


def run(capsys: Capture, *words: str) -> tuple[int, str, str]:
    code = main(["explain", *words])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_a_page_is_parted_into_its_four_parts() -> None:
    """Sentence, why, how and source; a colon or the words elsewhere do not part it."""
    made = parts_of(
        "Two shapes\nmeet.\n\nWhy it matters: one: two.\n\nHow to put it right: draw ``it`` again.\n\n"
        "Source: [X], a book."
    )
    assert (made.sentence, made.why, made.how, made.source) == (
        "Two shapes meet.", "one: two.", "draw it again.", "[X], a book.",
    )  # fmt: skip
    bare = parts_of("Only a sentence.")
    assert (bare.sentence, bare.why, bare.how, bare.source) == ("Only a sentence.", "", "", "")


def test_every_finding_has_a_page_and_every_page_a_finding() -> None:
    """The ids of the manual are those of the titles, each once."""
    ids = [one.id for one in manual()]
    assert len(ids) == len(set(ids))
    assert set(ids) == set(TITLES)


def test_every_rule_has_all_four_parts() -> None:
    """Its docstring says what, why, how and from where; and it is in the table of how grave each is."""
    for rule in RULES:
        parts = parts_of(text_of(rule))
        assert all((parts.sentence, parts.why, parts.how, parts.source)), rule.id
        assert SEVERITIES[rule.id], rule.id


def test_every_page_says_why_and_how() -> None:
    """Sentences, each with an end."""
    for one in manual():
        for text in (one.sentence, one.why, one.how):
            assert re.search(r"[.?!)]$", text), (one.id, text)


def test_a_page_tells_id_title_severity_and_needs(capsys: Capture) -> None:
    """In plain lines of a terminal's width."""
    code, out, err = run(capsys, "other-field")
    assert (code, err) == (0, "")
    assert out.splitlines()[0] == f"other-field: {TITLES['other-field']}"
    flat = " ".join(out.split())
    assert "How grave: stop." in flat
    assert "a check has to know the boundary of the field." in flat
    assert "Why it matters: loaded here it gives no rate at all" in flat
    assert "How to put it right: load the map that was made for this field" in flat
    assert all(len(line) <= 100 for line in out.splitlines())


def test_what_the_build_finds_is_as_grave_as_its_message_says(capsys: Capture) -> None:
    """Pages of findings that no rule of a check gives."""
    flat = " ".join(run(capsys, "stick-older")[1].split())
    assert "How grave: as the message says." in flat


def test_an_unknown_id_tells_the_nearest(capsys: Capture) -> None:
    """Exit 2, one line."""
    code, out, err = run(capsys, "overlaps")
    assert (code, out) == (2, "")
    assert err.splitlines() == [
        "vrx: There is no finding 'overlaps'. Did you mean \"overlap\"? vrx explain alone lists all of them."
    ]


def test_without_an_id_all_are_listed(capsys: Capture) -> None:
    """Each once, with its title."""
    code, out, _ = run(capsys)
    listed = dict(re.findall(r"(?m)^  ([a-z0-9-]+) +(.+)$", out))
    assert code == 0
    assert listed == dict(TITLES)


def test_as_json(capsys: Capture) -> None:
    """One page, or all of them in one object."""
    one = json.loads(run(capsys, "overlap", "--json")[1])
    assert one["severities"] == ["stop", "caution", "note"]
    assert one["title"] == TITLES["overlap"]
    every = json.loads(run(capsys, "--json")[1])["findings"]
    assert {page["id"] for page in every} == set(TITLES)
    assert one in every
