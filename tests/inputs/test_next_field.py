"""A plan copied for the next field: what is of one field's ground goes, all else stays, comments and all."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from support_good_plan import GOOD, write_plan

from vrx.errors import PlanError, VrxError
from vrx.inputs.next_field import NextField, next_field
from vrx.inputs.plan_file import read_plan

SAMPLES = sorted((Path(__file__).parents[2] / "sample_fields").glob("*/plan.toml"))
GROUND = ("name", "boundary", "crs", "layer", "stated_area", "stated_basis", "part")
FIELD = '[field]\nname = "Old"\nboundary = "old.geojson"\n'
ZONES = '[zones]\nfrom = "old.shp"\nname = "unit"\n'


def copied(folder: Path, text: str, **lines: str) -> NextField:
    """Copy a plan from ``old`` to ``new/field``, whose boundary is ``b.geojson`` there."""
    (folder / "old").mkdir(exist_ok=True)
    (folder / "old" / "plan.toml").write_text(text, encoding="utf-8", **lines)
    new = folder / "new" / "field"
    return next_field(folder / "old" / "plan.toml", new, new / "b.geojson")


def without_ground(values: dict[str, Any]) -> dict[str, Any]:
    kept = {key: value for key, value in values.items() if key not in ("keep_out", "overlay", "accept", "approved_by")}
    kept["field"] = {key: value for key, value in kept["field"].items() if key not in GROUND}
    return kept | {"zones": {}}


@pytest.mark.parametrize("plan", SAMPLES, ids=lambda path: path.parent.name)
def test_all_of_a_sample_but_its_ground_is_copied(plan: Path, tmp_path: Path) -> None:
    """Product, rates, machine and receiver say the same; every comment beside what stays is there."""
    text = next_field(plan, tmp_path, tmp_path / "b.geojson").text
    old, new = tomllib.loads(plan.read_text(encoding="utf-8")), tomllib.loads(text)
    assert new["field"].pop("name") == ""
    assert new["field"].pop("boundary") == "b.geojson"
    named = all(isinstance(one, dict) for one in old["zones"].values())
    assert new.pop("zones") == ({name: {"from": ""} for name in old["zones"]} if named else {"from": ""})
    expected = without_ground(old)
    del expected["zones"]
    for was, there in zip((expected, *expected["rate"]), (new, *new["rate"]), strict=True):
        for key in ("products", "machines", "table"):
            if isinstance(was.get(key), str):
                assert (tmp_path / there.pop(key)).resolve() == (plan.parent / was.pop(key)).resolve()
    assert new == expected
    lines = set(text.splitlines())
    products = plan.read_text(encoding="utf-8").partition("[[product]]")[2].partition("[zones]")[0]
    assert {line for line in products.splitlines() if "#" in line and "[[keep_out]]" not in line} <= lines


def test_a_plan_that_was_filled_in_reads(tmp_path: Path) -> None:
    """What is listed to fill in is all that its reader misses."""
    plan = write_plan(tmp_path)
    made = next_field(plan, tmp_path / "next", tmp_path / "boundary.geojson")
    assert [one.partition(",")[0] for one in made.fill_in] == ["field.name", "zones.from"]
    (tmp_path / "next").mkdir()
    there = tmp_path / "next" / "plan.toml"
    there.write_text(made.text, encoding="utf-8")
    with pytest.raises(VrxError) as caught:
        read_plan(there)
    places = [one.where.removeprefix("plan.toml: ") for one in caught.value.each]
    assert places == list(made.fill_in)
    filled = made.text.replace('name = "" ', 'name = "Next" ').replace('from = "" ', 'from = "../west.geojson" ')
    there.write_text(filled, encoding="utf-8")
    found = read_plan(there).plan
    assert found.field.boundary == ("../boundary.geojson",)
    assert found.product == read_plan(plan).plan.product


def test_what_goes_and_what_may_be_of_the_other_field_is_told(tmp_path: Path) -> None:
    """With the words by which people know it."""
    made = copied(tmp_path, 'approved_by = "C. Oak"\nnotes = "Soft by the gate."\n' + GOOD)
    assert made.left_out == ("the stated area, 61.5 ac", "1 keep-out (pond)", "the approval by C. Oak")
    assert made.look_at == (
        "date",
        "revision",
        "notes",
        "rate[gypsum], which names the zones A, B",
        "rate[zinc], which goes by zn_ppm of the zone layer",
    )
    assert "C. Oak" not in made.text


def test_paths_are_made_right_for_the_new_place(tmp_path: Path) -> None:
    """Relative ones as seen from there; what stays beside them stays."""
    text = (
        'products = "../shared/products.toml"   # of the office\nmachines = "machines.toml"\n'
        + FIELD
        + 'backdrop = "aerial.tif"\n'
        + ZONES
        + '[[rate]]\nproduct = "a"\nby = "table"\ntable = "rates.csv" # of spring\n'
        + f'[[rate]]\nproduct = "b"\nby = "table"\ntable = "{(tmp_path / "whole.csv").as_posix()}"\n'
    )
    made = copied(tmp_path, text)
    values = tomllib.loads(made.text)
    assert values["products"] == "../../shared/products.toml"
    assert values["machines"] == "../../old/machines.toml"
    assert values["field"]["backdrop"] == "../../old/aerial.tif"
    assert [one["table"] for one in values["rate"]] == ["../../old/rates.csv", "../../whole.csv"]
    assert 'products = "../../shared/products.toml"   # of the office' in made.text
    assert 'table = "../../old/rates.csv" # of spring' in made.text


def test_comments_go_with_what_they_stand_above(tmp_path: Path) -> None:
    """Right above a table that goes, or in it; a comment above what stays, stays."""
    text = (
        "# the plan\n\n"
        + FIELD
        + "# about the ditch\n[[keep_out]]\n# how wide\nwhere = 'ditch.shp'\n\n"
        + "# about the machine\n[machine]\nwidth = '60 ft'\n\n# about the zones\n"
        + ZONES
        + "#crs = ''\n\n# the display\n[receiver]\nformats = ['geojson']\n"
    )
    made = copied(tmp_path, text).text
    for words in ("# the plan", "# about the machine", "# the display"):
        assert words in made
    for words in ("ditch", "how wide", "about the zones", "#crs"):
        assert words not in made
    assert '#name = "unit" ' in made


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(
            'field.name = "Old"\nfield.boundary = ["a.shp",\n  "b.shp"]\nfield.crop = "oats"\nzones.from = "z.shp"\n'
            'keep_out = [{ where = "a.shp" },\n  { where = "b.shp" }]\nunits = "us"\n',
            id="dotted keys and lists",
        ),
        pytest.param(
            'zones = { from = "z.shp" }\nfield = { name = "Old", boundary = "a.shp", crop = "oats" } # mine\n',
            id="inline tables",
        ),
        pytest.param(FIELD + '[zones.soil]\nfrom = "a.shp"\n[zones."the yield"]\nfrom = "b.shp"\n', id="named layers"),
        pytest.param('zones.soil.from = "a.shp"\nzones.wet.from = "b.shp"\n' + FIELD, id="named layers, dotted"),
        pytest.param(ZONES + '[[keep_out]]\nwhere = "a"\n' + FIELD + '[[accept]]\nfinding = "gap"', id="no last line"),
        pytest.param(
            FIELD + ZONES + '[[rate]]\nby = "table"\n[rate.table]\nA = "1"\n[[overlay]]\nwhere = "x"\n', id="ends"
        ),
        pytest.param('notes = """\nA\n\n\n\n# B\n[[keep_out]]\n"""\n' + FIELD + ZONES, id="a text of several lines"),
        pytest.param("rate = [{ product = 'a', table = 'r.csv' }]\n" + FIELD + ZONES, id="rates in a list"),
        pytest.param((FIELD + "[[keep_out]]\nwhere = 'x'\n" + ZONES).replace("\n", "\r\n"), id="lines of Windows"),
    ],
)
def test_other_ways_to_write_a_plan_are_copied_too(tmp_path: Path, text: str) -> None:
    """Whatever TOML allows: the new text says the old values without those of the ground."""
    made = tomllib.loads(copied(tmp_path, text, newline="").text)
    old = tomllib.loads(text)
    assert made["field"].pop("name") == ""
    assert made["field"].pop("boundary") == "b.geojson"
    layers = [made["zones"]] if "from" in made["zones"] else list(made["zones"].values())
    assert all(one == {"from": ""} for one in layers)
    assert len(layers) == (1 if "from" in old["zones"] else len(old["zones"]))
    for rate in (one for each in (made, old) for one in each.get("rate", [])):
        if isinstance(rate.get("table"), str):
            rate["table"] = Path(rate["table"]).name
    assert made | {"zones": {}} == without_ground(old)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        pytest.param(FIELD, "no [zones] table", id="no zones"),
        pytest.param(ZONES, "no [field] table", id="no field"),
        pytest.param('field = "x"\n' + ZONES, "no [field] table", id="a field that is no table"),
        pytest.param("[field]\ncrop = 'x'\n" + ZONES, "can't be copied", id="a field without name"),
    ],
)
def test_what_is_no_whole_plan_is_refused(tmp_path: Path, text: str, problem: str) -> None:
    """One line that says what is missing."""
    with pytest.raises(PlanError) as caught:
        copied(tmp_path, text)
    assert problem in caught.value.problem
    assert [path.name for path in tmp_path.iterdir()] == ["old"]
