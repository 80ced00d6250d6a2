"""The JSON Schema of a plan, checked by an independent validator (jsonschema, draft 2020-12)."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from support_good_plan import GOOD

from vrx.model.plan_schema import DRAFT, accepts, keys_of, node_at, plan_schema, toml_text, whole_schema

VALIDATOR = jsonschema.Draft202012Validator(plan_schema())


def _as_json(value: Any) -> Any:
    """Give a date as text, as JSON has it."""
    if isinstance(value, dict):
        return {key: _as_json(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_as_json(inner) for inner in value]
    return value.isoformat() if isinstance(value, dt.date) else value


def _errors(text: str) -> list[str]:
    return [error.message for error in VALIDATOR.iter_errors(_as_json(tomllib.loads(text)))]


def test_the_schema_is_one():
    """The schema says its draft and is valid under that draft's own schema."""
    assert plan_schema()["$schema"] == DRAFT
    jsonschema.Draft202012Validator.check_schema(plan_schema())


def test_a_good_plan_validates():
    """The plan with everything in it is valid."""
    assert _errors(GOOD) == []


def test_the_sample_plans_validate(sample_fields):
    """Each sample field's plan is valid."""
    plans = sorted(sample_fields.glob("*/plan.toml"))
    assert plans
    for plan in plans:
        assert _errors(plan.read_text(encoding="utf-8")) == [], plan.parent.name


def test_the_example_of_every_key_validates(shared):
    """The plan that shows every key is valid."""
    assert _errors(Path(shared / "example-plan.toml").read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("speed", "valid"),
    [
        pytest.param("4 to 6 mph", True, id="a range"),
        pytest.param("4 mph to 10 km/h", True, id="two units"),
        pytest.param("5 mph", True, id="one speed"),
        pytest.param("4-6 mph", False, id="a dash"),
        pytest.param("4 to 6", False, id="no unit"),
        pytest.param("fast", False, id="no number"),
    ],
)
def test_a_speed_in_the_schema(speed, valid):
    """An editor takes the spellings of a speed that the reader takes, and no others."""
    assert (_errors(GOOD.replace('name = "spreader"', f'speed = "{speed}"')) == []) is valid


@pytest.mark.parametrize(
    ("keys", "valid"),
    [
        pytest.param('product = "zinc"', True, id="a product"),
        pytest.param('one_of = ["zinc", "kieserite"]', True, id="several"),
        pytest.param('product = "zinc"\none_of = ["zinc", "kieserite"]', False, id="both"),
        pytest.param("", False, id="neither"),
    ],
)
def test_a_drive_carries_a_product_or_one_of_several(keys, valid):
    """An editor asks for one of the two keys, and refuses both."""
    drive = f'[[machine.drive]]\nname = "third"\nspan = ["0 ft", "1 ft"]\n{keys}\n\n'
    assert (_errors(GOOD.replace("[[machine.drive]]", f"{drive}[[machine.drive]]", 1)) == []) is valid


@pytest.mark.parametrize(
    ("old", "new"),
    [
        pytest.param("revision = 1", "revison = 1", id="a misspelt key"),
        pytest.param("revision = 1", 'revision = "1"', id="a number as text"),
        pytest.param('units = "us"', 'units = "US"', id="a choice that there is not"),
        pytest.param('name = "Ridge Strip"\n', "", id="a needed key left out"),
        pytest.param('"0.1 ac"', "0.1", id="a bare number"),
        pytest.param('"0.1 ac"', '"0.1"', id="text without a unit"),
        pytest.param('"0.1 ac"', '"0,1 ac"', id="a decimal comma"),
        pytest.param('by = "breaks"', 'by = "line"', id="keys of another way to a rate"),
        pytest.param('by = "breaks"', 'by = "method"', id="a way that is not there yet"),
        pytest.param('name = "spreader"', "speed = 4", id="a bare speed"),
        pytest.param('name = "right"', 'name = "right"\nflow = "2 gal/min"', id="a flow of one number"),
        pytest.param('name = "right"', 'name = "right"\nsections = 0', id="no section"),
        pytest.param("off_allowed = true", 'price = "1/lb"', id="a price without a currency"),
        pytest.param('name = "spreader"', 'tank = { size = "900 gal" }', id="a box without its product"),
        pytest.param('step = "100 lb/ac"\n', "", id="a product without a step"),
        pytest.param('span = ["0 ft", "30 ft"]', 'span = ["0 ft"]', id="half a span"),
        pytest.param("[[keep_out]]", "[keep_out]", id="one table for a list of them"),
    ],
)
def test_a_broken_plan_does_not_validate(old, new):
    """What the reader refuses without looking at units or files, the schema refuses too."""
    assert old in GOOD
    assert _errors(GOOD.replace(old, new, 1))


def test_shared_products_may_hold_what_a_plan_leaves_out():
    """With a file of shared products a product needs only its name, or no table at all."""
    text = 'products = "p.toml"\n' + GOOD.replace('step = "100 lb/ac"\n', "", 1)
    assert _errors(text) == []
    assert _errors(re.sub(r"\[\[product\]\]\n(.+\n)+", "", text)) == []
    assert _errors(re.sub(r"\[\[product\]\]\n(.+\n)+", "", GOOD))


def test_every_key_of_today_has_a_description():
    """An editor and the reference page can say what each key is."""
    schema = whole_schema()
    for name, node in {"Plan": schema, **schema["$defs"]}.items():
        if name != "RateNotYet":
            for key in keys_of(node):
                assert node["properties"][key].get("description"), f"{name}.{key}"


@pytest.mark.parametrize(
    ("path", "words"),
    [
        pytest.param(("units",), '"us" or "metric"', id="choices"),
        pytest.param(("revision",), "a whole number of at least 1", id="a bound"),
        pytest.param(("field", "season"), "a whole number from 1900 to 2200", id="two bounds"),
        pytest.param(("keep_out", 3, "set_back"), 'text with its unit, such as "60 ft" or "18 m"', id="a quantity"),
        pytest.param(("product", 0, "off_allowed"), "true or false", id="a flag"),
        pytest.param(("rate", 1, "breaks", 0), "a number", id="a member of a list of one way to a rate"),
        pytest.param(
            ("receiver", "formats"), 'a list of "shapefile", "geojson" or "geopackage"', id="a list of choices"
        ),
    ],
)
def test_a_key_says_what_it_accepts(path, words):
    """The words for what a key accepts come from the schema."""
    node = node_at(whole_schema(), path, tomllib.loads(GOOD))
    assert node is not None
    assert accepts(node) == words


def test_a_key_that_there_is_not_has_no_node():
    """An unknown key, and a position in what is no list, are nowhere in the schema."""
    assert node_at(whole_schema(), ("fields", "name")) is None
    assert node_at(whole_schema(), ("units", 0)) is None


def test_what_a_key_accepts_can_be_copied_into_a_plan() -> None:
    """Every example in words is TOML, tables too: ``{ N = "32 %" }``, not ``{"N": "32 %"}``."""
    schema = whole_schema()
    seen = 0
    for node in (schema, *schema["$defs"].values()):
        for key, inner in node.get("properties", {}).items():
            for example in inner.get("examples", ()):
                seen += 1
                assert tomllib.loads(f"key = {toml_text(example)}") == {"key": example}, key
                assert toml_text(example).strip('"') in accepts(inner)
    assert seen > 20
