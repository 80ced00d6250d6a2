"""``KEY=VALUE``: which value is meant, and what it is to be."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrx.errors import PlanError
from vrx.inputs.plan_path import Chosen, assignment, path_of
from vrx.model.plan_schema import whole_schema

VALUES: dict[str, Any] = {
    "field": {"name": "North"},
    "product": [{"name": "UAN 32", "analysis": {"N": "32 %"}}, {"name": "Potash 0-0-60"}],
    "keep_out": [{"where": "a.shp", "reason": "well"}, {"where": "b.shp", "reason": "well"}],
    "rate": [{"product": "UAN 32", "by": "table", "table": {"Ke.A": "1 gal/ac"}}],
    "machine": {"drive": [{"name": "left", "product": "UAN 32"}, {"name": "right", "product": "UAN 32"}]},
}


@pytest.mark.parametrize(
    ("said", "path"),
    [
        pytest.param("field.crop=x", ("field", "crop"), id="a key that is not there yet"),
        pytest.param("date=2027-01-01", ("date",), id="a key of the plan itself"),
        pytest.param("receiver.crs=x", ("receiver", "crs"), id="a table that is not there yet"),
        pytest.param("product[Potash 0-0-60].max=x", ("product", 1, "max"), id="by name"),
        pytest.param("product[1].max=x", ("product", 1, "max"), id="by place"),
        pytest.param('product["Potash 0-0-60"].max=x', ("product", 1, "max"), id="a quoted name"),
        pytest.param(" product [ UAN 32 ] . analysis . N = x", ("product", 0, "analysis", "N"), id="blanks"),
        pytest.param('rate[UAN 32].table."Ke.A"=x', ("rate", 0, "table", "Ke.A"), id="a key with a dot"),
        pytest.param("machine.drive[right].flow=x", ("machine", "drive", 1, "flow"), id="within a table"),
        pytest.param("keep_out[b.shp].set_back=x", ("keep_out", 1, "set_back"), id="by file"),
        pytest.param("product[UAN 32].name=a=b", ("product", 0, "name"), id="an equals sign in the value"),
    ],
)
def test_a_key_leads_to_one_place(said: str, path: tuple[str | int, ...]) -> None:
    """Tables of which there are several are chosen by name, product or file, or by their place from 0."""
    assert path_of(VALUES, assignment(said).steps, whole_schema()) == path


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("barley", "barley"),
        ("160 lb/ac", "160 lb/ac"),
        ('"160 lb/ac"', "160 lb/ac"),
        ("spring canola # early", "spring canola # early"),
        ("5", 5),
        ("5.5", 5.5),
        ('"5"', "5"),
        ("true", True),
        ("2027-04-12", dt.date(2027, 4, 12)),
        ("['8 gal/ac', '9 gal/ac']", ["8 gal/ac", "9 gal/ac"]),
        ("{ N = '28 %' }", {"N": "28 %"}),
        ("", ""),
        ("x\nother = 3", "x\nother = 3"),
        ("3\nother = 3", "3\nother = 3"),
    ],
)
def test_a_value_is_toml_and_a_bare_word_is_text(text: str, value: object) -> None:
    """A shell takes quotes away, so what is no number, date, truth value, list or table is text as it stands."""
    found = assignment(f"field.name={text}").value
    assert (found, type(found)) == (value, type(value))


@pytest.mark.parametrize(
    ("said", "problem", "remedy"),
    [
        pytest.param("field.crop", "not KEY=VALUE", "field.crop=barley", id="no value"),
        pytest.param("=barley", "not KEY=VALUE", "field.crop=barley", id="no key"),
        pytest.param("field.=x", "not KEY=VALUE", "field.crop=barley", id="a key that ends on a dot"),
        pytest.param("product[UAN 32.max=x", "not KEY=VALUE", "field.crop=barley", id="an open bracket"),
        pytest.param("field.crop=[1", "begins like TOML", "Close quotes and brackets", id="an open list"),
        pytest.param(f"field.crop={'[' * 9999}", "begins like TOML|can't be read", "", id="too many brackets"),
        pytest.param(f"field.season={'9' * 9999}", "can't be read", "shorter", id="a number of thousands of digits"),
        pytest.param("feld.crop=x", "'feld' is not a key of a plan", 'mean "field"', id="a misspelt table"),
        pytest.param("product.max=x", "several product", "product[Potash 0-0-60]", id="which of several"),
        pytest.param("product[UAN 28].max=x", "no product called 'UAN 28'", 'mean "UAN 32"', id="a name not there"),
        pytest.param("product[2].max=x", "has 2, counted from 0", "product[UAN 32]", id="a place not there"),
        pytest.param("keep_out[well].set_back=x", "2 of keep_out", "keep_out[0] or keep_out[1]", id="two of a name"),
        pytest.param("field[0].crop=x", "not one of several", "without [0]", id="one table"),
        pytest.param("field.name.x=x", "field.name is no table", "as a whole", id="within a text"),
        pytest.param("overlay[0].factor=1", "has no overlay", "Add it", id="a list that is not there"),
    ],
)
def test_what_leads_nowhere_is_refused_with_what_there_is(said: str, problem: str, remedy: str) -> None:
    """One clear sentence, and the keys or names that are there."""
    with pytest.raises(PlanError, match=problem) as caught:
        path_of(VALUES, assignment(said).steps, whole_schema())
    assert remedy in caught.value.remedy


@given(st.text(max_size=40))
def test_any_text_is_an_assignment_or_refused(said: str) -> None:
    """Nothing else is raised, and what is read has a key and one value."""
    try:
        found = assignment(said)
    except PlanError:
        return
    assert found.steps
    assert said.startswith(found.key) or found.key in said
    assert all(isinstance(one, str | Chosen) for one in found.steps)


def test_the_keys_that_the_manual_shows_are_read() -> None:
    """Each key of its table is one that an assignment can have."""
    manual = (Path(__file__).parents[2] / "docs" / "last-minute.md").read_text(encoding="utf-8")
    rows = [line for line in manual.splitlines() if line.startswith("|")][2:]
    keys = [key for row in rows for key in re.findall(r"`([^`]+)`", row.split("|")[2])]
    assert len(keys) > 10
    assert [assignment(f"{key}=x").key for key in keys] == keys
