"""The plan as a noun: what hangs together and what does not, without any file."""

from __future__ import annotations

import pickle
import tomllib
from typing import Any

import pytest
from pydantic import ValidationError
from support_good_plan import GOOD

from vrx.model.plan import Plan
from vrx.units import ACRE_M2, SURVEY_ACRE_M2, Dialect


def _plan(**changes: Any) -> Plan:
    return Plan.model_validate(tomllib.loads(GOOD) | changes, context={"dialect": Dialect("us")})


def test_a_plan_travels_between_processes():
    """A pickled plan comes back the same."""
    assert pickle.loads(pickle.dumps(_plan())) == _plan()


def test_a_plan_can_not_be_changed():
    """A key of a plan can't be set once it is made."""
    with pytest.raises(ValidationError, match="frozen"):
        _plan().revision = 2


def test_the_products_of_the_pass_follow_the_rates():
    """`rated` is in the order of the rates, whatever the order of the products."""
    given = tomllib.loads(GOOD)
    turned = _plan(rate=given["rate"][::-1])
    assert [product.name for product in turned.rated] == ["zinc", "gypsum"]


def test_unless_said_small_parts_are_a_tenth_of_an_acre():
    """A plan that says nothing joins parts under 0.1 ac and gaps under 0.05 ac, of 4046.8564224 m2."""
    plan = Plan.model_validate(
        {key: value for key, value in tomllib.loads(GOOD).items() if key != "smallest_area"},
        context={"dialect": Dialect("us")},
    )
    assert (plan.smallest_area, plan.fill_gaps) == (pytest.approx(404.68564224), pytest.approx(202.34282112))


@pytest.mark.parametrize(
    ("acre", "acre_m2"),
    [
        pytest.param("international", ACRE_M2, id="the acre"),
        pytest.param("us_survey", SURVEY_ACRE_M2, id="the survey acre"),
    ],
)
def test_the_acre_is_the_one_that_the_dialect_says(acre, acre_m2):
    """The acre of the context is that of every area in the plan."""
    plan = Plan.model_validate(tomllib.loads(GOOD), context={"dialect": Dialect("us", acre)})
    assert plan.smallest_area == float(acre_m2 / 10)


def test_one_file_may_stand_without_a_list():
    """A single file name is a list of one."""
    assert _plan().field.boundary == ("boundary.geojson",)


def test_outer_spaces_of_names_do_not_count():
    """Names that differ by outer spaces are the same, so that what looks alike is alike."""
    given = tomllib.loads(GOOD)
    given["rate"][0]["product"] = " gypsum "
    assert _plan(rate=given["rate"]).rated[0].name == "gypsum"


def test_a_keep_out_may_name_a_shared_product_of_another_pass():
    """A product that is known, though this pass does not use it, is a name that a keep-out may use."""
    keep_out = [{"where": "pond.geojson", "products": ["lime"]}]
    given = tomllib.loads(GOOD) | {"keep_out": keep_out}
    context = {"dialect": Dialect("us"), "shared_products": ("lime",)}
    assert Plan.model_validate(given, context=context).keep_out[0].products == ("lime",)
    with pytest.raises(ValidationError, match="names the product 'lime'"):
        _plan(keep_out=keep_out)


def test_holes_need_a_default_of_nothing():
    """`keep_outs = "hole"` is accepted only where no default rate would fill the hole."""
    given = tomllib.loads(GOOD)
    hole = {"keep_outs": "hole"}
    with pytest.raises(ValidationError, match="'gypsum' fill every keep-out"):
        _plan(receiver=hole)
    given["product"][0]["default"] = "0 lb/ac"
    assert _plan(receiver=hole, product=given["product"]).receiver.keep_outs == "hole"


def test_all_wrong_names_come_in_one_error():
    """Several names that do not fit are told together, each with its place."""
    given = tomllib.loads(GOOD)
    given["rate"][0]["product"] = "gipsum"
    given["machine"]["drive"][1]["product"] = "lime"
    with pytest.raises(ValidationError) as caught:
        _plan(rate=given["rate"], machine=given["machine"])
    (error,) = caught.value.errors()
    assert [one.at for one in error["ctx"]["each"]] == [
        ("rate", 0, "product"),
        ("machine", "drive", 1, "product"),
        ("product", 0, "name"),
    ]


def test_caps_are_rates_of_their_nutrient():
    """A cap keeps its own unit, and stands under the nutrient that it is of."""
    caps = _plan(caps={"N": "180 lb N/ac", "P2O5": "0 kg P2O5/ha"}).caps
    assert {name: (str(one), one.unit.of) for name, one in caps.items()} == {
        "N": ("180 lb N/ac", "N"),
        "P2O5": ("0 kg P2O5/ha", "P2O5"),
    }
    assert _plan().caps == {}


@pytest.mark.parametrize(
    ("caps", "words"),
    [
        pytest.param({"N": "180 lb/ac"}, "does not say that it is of the nutrient", id="of product"),
        pytest.param({"N": "180 lb P2O5/ac"}, "is a rate of P2O5", id="of another nutrient"),
        pytest.param({"P2O5": "80 lb P_element/ac"}, "is a rate of P_element", id="of the element for the oxide"),
        pytest.param({"P": "80 lb P2O5/ac"}, "element or oxide", id="P"),
        pytest.param({"Fe": "1 lb N/ac"}, "not a nutrient", id="not known"),
        pytest.param({"N": "-1 lb N/ac"}, "below 0", id="below nothing"),
        pytest.param({"N": "180 lb N"}, "is needed", id="an amount"),
        pytest.param({"N": 180}, "no unit", id="a bare number"),
    ],
)
def test_a_cap_that_can_not_be_is_refused(caps, words):
    """The nutrient, its unit and its sign are looked at."""
    with pytest.raises(ValidationError, match=words):
        _plan(caps=caps)


@pytest.mark.parametrize("heading", ["0 deg", "85 deg", "359.9 deg"])
def test_a_heading_is_kept_in_degrees(heading):
    """From north round to just before it."""
    field = tomllib.loads(GOOD)["field"] | {"heading": heading}
    assert _plan(field=field).field.heading == float(heading.split()[0])


@pytest.mark.parametrize("heading", ["-1 deg", "360 deg", "85 m", "85"])
def test_a_heading_that_is_none_is_refused(heading):
    """Beyond a turn, another kind, or no unit."""
    field = tomllib.loads(GOOD)["field"] | {"heading": heading}
    with pytest.raises(ValidationError):
        _plan(field=field)


def test_products_of_one_of_are_looked_up():
    """A drive that changes between products names only products that are there, each with its place."""
    machine = tomllib.loads(GOOD)["machine"]
    there = machine["drive"][1].pop("product")
    machine["drive"][1]["one_of"] = [there, "lime"]
    with pytest.raises(ValidationError) as caught:
        _plan(machine=machine)
    (refused,) = caught.value.errors()[0]["ctx"]["each"]
    assert refused.at == ("machine", "drive", 1, "one_of", 1)
    assert "'lime'" in refused.problem
