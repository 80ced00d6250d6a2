"""The plan that a person starts from."""

from __future__ import annotations

import re

import pytest
from support_good_plan import problems_of

from vrx.errors import UnitError
from vrx.inputs.new_plan import FILES_NAMED, starter_plan
from vrx.inputs.plan_file import read_plan
from vrx.model.plan_schema import is_table, is_tables, keys_of, whole_schema

UNITS = [pytest.param("us", id="US"), pytest.param("metric", id="metric")]


def _written(folder, text):
    for name in (*FILES_NAMED, "rates.csv"):
        (folder / name).touch()
    path = folder / "plan.toml"
    path.write_text(text, encoding="utf-8")
    return path


def _switched_on(text: str) -> str:
    """Take the sign off every line that is a key switched off."""
    return re.sub(r"^#(?=[a-z\[])", "", text, flags=re.MULTILINE)


@pytest.mark.parametrize("units", UNITS)
def test_the_starter_plan_reads(tmp_path, units):
    """The plan reads as it comes, once the files that it names are there, and speaks the units asked for."""
    plan = read_plan(_written(tmp_path, starter_plan(units=units))).plan
    assert plan.units == units
    assert plan.product[0].unit.name == {"us": "lb/ac", "metric": "kg/ha"}[units]


@pytest.mark.parametrize("units", UNITS)
def test_without_its_files_the_starter_plan_says_which_are_missing(tmp_path, units):
    """Every file that it names is asked for."""
    path = tmp_path / "plan.toml"
    path.write_text(starter_plan(units=units), encoding="utf-8")
    assert {one.problem.split("'")[1] for one in problems_of(path)} == set(FILES_NAMED)


@pytest.mark.parametrize("units", UNITS)
def test_every_key_that_is_switched_off_reads_when_switched_on(tmp_path, units):
    """All keys switched on together read too."""
    assert problems_of(_written(tmp_path, _switched_on(starter_plan(units=units)))) == ()


@pytest.mark.parametrize("units", UNITS)
def test_the_other_ways_to_a_rate_read(tmp_path, units):
    """Each way shown in the comments reads in place of the one that is on."""
    text = starter_plan(units=units)
    ways = re.findall(r"^#   (by = .*)$", text, flags=re.MULTILINE)
    assert [re.findall(r'by = "(\w+)"', way)[0] for way in ways] == ["table", "column", "breaks", "line", "formula"]
    for way in ways:
        keys = "\n".join(way.split("    "))
        other = re.sub(r'^by = "table".*\ntable = .*$', lambda _: keys, text, flags=re.MULTILINE)  # noqa: B023 - used at once
        assert keys in other
        assert problems_of(_written(tmp_path, other)) == (), way


@pytest.mark.parametrize("units", UNITS)
def test_the_starter_plan_shows_every_key_of_today(units):
    """Each key that the model knows today stands in its table, on or off or in a comment."""
    text = starter_plan(units=units)
    sections = re.split(r"^#?(?=\[)", text, flags=re.MULTILINE)
    schema = whole_schema()
    tables = {
        "": "Plan",
        "[field]": "FieldOfPlan",
        "[[keep_out]]": "KeepOut",
        "[[product]]": "Product",
        "[zones]": "ZonesOfPlan",
        "[machine]": "Machine",
        "[[overlay]]": "Overlay",
        "[[machine.drive]]": "Drive",
        "[[machine.tank]]": "Box",
        "[receiver]": "Receiver",
        "[[accept]]": "Accept",
    }
    for header, name in tables.items():
        section = next(one for one in sections if one.startswith(header))
        node = schema if name == "Plan" else schema["$defs"][name]
        for key in keys_of(node):
            if not is_table(node["properties"][key]) and not is_tables(node["properties"][key]):
                assert re.search(rf"\b{key} = ", section), f"{header} {key}"
    rates = next(one for one in sections if one.startswith("[[rate]]"))
    for name in ("RateByTable", "RateByColumn", "RateByBreaks", "RateByLine"):
        for key in keys_of(schema["$defs"][name]):
            assert re.search(rf"\b{key} = ", rates), f"{name} {key}"


@pytest.mark.parametrize("units", UNITS)
def test_every_choice_of_a_key_stands_beside_it(units):
    """Where a key has choices, the line names them all."""
    text = starter_plan(units=units)
    schema = whole_schema()
    for node in (schema, *(schema["$defs"][name] for name in ("FieldOfPlan", "Product", "Receiver", "ZonesOfPlan"))):
        for key, inner in node["properties"].items():
            choices = inner.get("enum", [])
            if choices and choices != [""]:
                lines = re.findall(rf"^#?{key} = .*$", text, flags=re.MULTILINE)
                assert any(all(choice in line for choice in choices) for line in lines), key


def test_units_that_there_are_not_are_refused():
    """Only the two systems are accepted."""
    with pytest.raises(UnitError, match="imperial"):
        starter_plan(units="imperial")
