"""A check in the terminal: the verdict first, at most a screen, and what was not looked at is said."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from support_check_pages import (
    CASES,
    clear,
    finding,
    known,
    many,
    no_product,
    stop,
    with_findings,
    write_plan,
    write_zones,
)

from vrx.model.check import NotChecked
from vrx.reports.check_text import check_text
from vrx.runs.check import check


@pytest.mark.parametrize(
    ("name", "first"),
    [
        pytest.param("clear", "CLEAR: nothing speaks against loading map.geojson.", id="clear"),
        pytest.param("caution", "CAUTION: look at 1 thing before loading map.geojson.", id="caution"),
        pytest.param("stop", "STOP: do not load map.geojson.", id="stop"),
        pytest.param("unreadable", "STOP: do not load map.geojson.", id="unreadable"),
        pytest.param(
            "no product",
            "CLEAR as far as could be looked: map.geojson. 3 rules had nothing to look at: no ",
            id="no product",
        ),
    ],
)
def test_the_first_line_is_the_verdict_in_words(tmp_path: Path, name: str, first: str) -> None:
    """Clear is said without reserve only where plan, product, boundary and rates are known."""
    assert check_text(CASES[name](tmp_path)).splitlines()[0].startswith(first)


@pytest.mark.parametrize("name", CASES)
def test_it_fits_a_screen(tmp_path: Path, name: str) -> None:
    """24 lines of 100 columns, whatever was found, unless all is asked for."""
    lines = check_text(CASES[name](tmp_path)).splitlines()
    assert len(lines) <= 24
    assert all(len(line) <= 100 or " " not in line.strip() for line in lines)


def test_what_was_read_is_said_with_how_it_was_found(tmp_path: Path) -> None:
    """10.5 ha by construction; the product's own unit is a guess that a person has to see."""
    write_zones(tmp_path / "map.geojson")
    made = check([tmp_path / "map.geojson"], plan=write_plan(tmp_path))
    text = " ".join(check_text(made).split())
    assert "Checked for Granular (0, or 20 to 200 kg/ha in steps of 5) on" in text
    assert "Read: 3 records on 10.5000 ha (25.946 ac) of true ground, in EPSG:4326." in text
    assert (
        "Rates: column rate (known by its name), and the file does not say its unit: read as kg/ha, the unit of the "
        "product; 85 to 140 kg/ha." in text
    )


def test_rates_of_0_and_none_are_told_apart(tmp_path: Path) -> None:
    """A record without a rate is not one of 0."""
    made = check([write_zones(tmp_path / "map.geojson", rates=(0, None, 140))], unit="kg/ha")
    assert "140 kg/ha, and 0; no rate in 1 record." in " ".join(check_text(with_findings(made)).split())


def test_many_findings_show_each_kind_and_how_many_more_there_are(tmp_path: Path) -> None:
    """60 of three kinds: all kinds are on the screen, and --all has each of the 60."""
    made = many(tmp_path)
    short, whole = check_text(made), check_text(made, every=True)
    shown = short.count("Finding number")
    assert {"[overlap]", "[gap]", "[tiny-part]"} <= set(short.split())
    assert f"... and {60 - shown} more: --all" in short
    assert 3 <= shown < 60
    assert [f"Finding number {at}." in whole for at in range(60)] == [True] * 60
    assert "--all" not in whole


def test_a_remedy_stands_once_for_a_row_of_findings(tmp_path: Path) -> None:
    """The same thing to do is not told sixty times."""
    made = with_findings(known(tmp_path), *(finding(message=f"Number {at}.") for at in range(3)))
    assert check_text(made, every=True).count("Have its shapes drawn") == 1


def test_what_was_not_looked_at_is_grouped_by_why(tmp_path: Path) -> None:
    """Each reason once, with its ids; those that no line has room for come with --all."""
    made = no_product(tmp_path)
    assert "No boundary is known. [gap, sliver]" in check_text(made)
    ids = [f"rule-{at}" for at in range(40)]
    crowded = replace(made, not_checked=tuple(NotChecked(id=one, why="No plan is known.") for one in ids))
    short, whole = check_text(crowded), check_text(crowded, every=True)
    assert "Not looked at by 40 rules:" in short
    assert "more]" in short
    assert all(one in whole for one in ids)


def test_the_next_step_is_said(tmp_path: Path) -> None:
    """Load it; or look, then load; or how to have more looked at; a stop has its remedy."""
    assert "\nLoad it. The label" in check_text(clear(tmp_path))
    assert "Look at these, then load it." in check_text(CASES["caution"](tmp_path))
    assert "name the plan of the pass with --plan" in " ".join(check_text(no_product(tmp_path)).split())
    stopped = check_text(stop(tmp_path))
    assert "> Have its shapes drawn so that they meet." in stopped
    assert "oad it." not in stopped
