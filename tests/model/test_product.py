"""A product's limits and steps, checked when it is made."""

from __future__ import annotations

import pickle
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError
from support_products import granular, product, seed, unit

from vrx.model.product import Product
from vrx.units import Dialect, Measure

STEP_5 = {"form": "granular", "min": "11 kg/ha", "max": "14 kg/ha", "step": "5 kg/ha"}
REFUSED = [
    pytest.param(STEP_5, "No allowed rate", id="N03: no multiple of 5 lies between 11 and 14"),
    pytest.param({"min": "0 gal/ac", "max": "0.5 gal/ac"}, "No allowed rate", id="none above 0"),
    pytest.param({"min": "27 gal/ac"}, "leave no rate", id="min above max"),
    pytest.param({"min": "-1 gal/ac"}, "leave no rate", id="min below 0"),
    pytest.param({"step": "0 gal/ac"}, "is not above 0", id="no step"),
    pytest.param({"step": "-1 gal/ac"}, "is not above 0", id="a step back"),
    pytest.param({"step": "1e-9 gal/ac"}, "too small for max", id="more steps than can be counted"),
    pytest.param({"min": "0 gal/ac", "off_allowed": False}, "disagree", id="min 0 of what can't be shut off"),
    pytest.param({"default": "14.5 gal/ac"}, "default = 14.5 gal/ac is not a rate", id="default between steps"),
    pytest.param({"default": "7 gal/ac"}, "default = 7 gal/ac is not a rate", id="default below min"),
    pytest.param({"outside": "27 gal/ac"}, "outside = 27 gal/ac is not a rate", id="outside above max"),
    pytest.param({"no_position": "0 gal/ac", "off_allowed": False}, "no_position = 0 gal/ac", id="off, not allowed"),
    pytest.param({"default": "130 L/ha"}, "default = 130 L/ha is not a rate", id="default off the steps by its unit"),
    pytest.param(
        {"hand_rates": ["12 gal/ac", "12.5 gal/ac"]}, "hand_rates = 12.5 gal/ac", id="hand rate off the steps"
    ),
    pytest.param({"hand_rates": ["12 lb/ac"]}, "not the same kind", id="hand rate of another kind"),
    pytest.param({"min": "8 lb/ac"}, "not the same kind", id="min of another kind"),
    pytest.param({"step": "1 lb N/ac"}, "a nutrient, not a product", id="step in nutrient"),
    pytest.param({"min": "8 kg N/ha", "step": "1 kg/ha", "max": "26 kg/ha"}, "not the same kind", id="min in nutrient"),
    pytest.param(
        {"form": "seed", "step": "1 live_seeds/ac"}, "counts seed dropped, not live seed", id="step in live seed"
    ),
    pytest.param({"form": "granular"}, "granular product is not metered in gal/ac", id="granular by volume"),
    pytest.param({"form": "seed"}, "seed product is not metered in gal/ac", id="seed by volume"),
    pytest.param({"density": "0 lb/gal"}, "density = 0 lb/gal is not above 0", id="no density"),
    pytest.param({"density": "3 lb N/gal"}, "counts N, not the product", id="density of the nutrient"),
    pytest.param({"on_hand": "900 lb N"}, "counts N, not the product", id="nutrient on hand"),
    pytest.param({"seeds_per": "2800 live_seeds/lb"}, "counts live seed", id="live seeds a pound"),
    pytest.param({"seeds_per": "2800 /lb", "thousand_seed_weight": "42 g"}, "both say", id="two seed weights"),
    pytest.param({"analysis": {"P": "10 %"}}, "does not say element or oxide", id="P"),
    pytest.param({"analysis": {"K": "10 %"}}, "does not say element or oxide", id="K"),
    pytest.param({"analysis": {"Q": "10 %"}}, "is not a nutrient", id="an unknown nutrient"),
    pytest.param({"analysis": {"N": "0 %"}}, "is not a share", id="none of a nutrient"),
    pytest.param({"analysis": {"N": "101 %"}}, "is not a share", id="more than the whole"),
    pytest.param({"analysis": {"N": "60 %", "K2O": "50 %"}}, "more than 100 %", id="more than the whole together"),
    pytest.param({"analysis": {"N": 28}}, "has no unit", id="a bare share"),
    pytest.param({"price": "-0.01 USD/tonne"}, "is below 0", id="a price below 0"),
    pytest.param({"overlap": "-1 %"}, "no share of the ground", id="overlap below 0"),
    pytest.param({"overlap": "100 %"}, "no share of the ground", id="all ground twice"),
    pytest.param({"package": "0 gal"}, "is not above 0", id="an empty package"),
    pytest.param({"package": "9 lb N"}, "counts N, not the product", id="a package of nutrient"),
]


@pytest.mark.parametrize(("keys", "words"), REFUSED)
def test_a_product_that_can_not_be_is_refused(keys: dict[str, Any], words: str) -> None:
    """A wrong product can't be made, and the error says what is wrong with which key."""
    with pytest.raises(ValidationError) as caught:
        product(**keys)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("keys", "first", "last", "text"),
    [
        pytest.param({}, 8, 26, "0, or 8 to 26 gal/ac in steps of 1", id="from zero"),
        pytest.param({"min": "8.5 gal/ac"}, 9, 26, "0, or 9 to 26 gal/ac in steps of 1", id="min between steps"),
        pytest.param({"max": "26.9 gal/ac"}, 8, 26, "0, or 8 to 26 gal/ac in steps of 1", id="max between steps"),
        pytest.param(
            {"min": "8.5 gal/ac", "step_from": "min"}, Fraction(17, 2), Fraction(51, 2),
            "0, or 8.5 to 25.5 gal/ac in steps of 1", id="from min",
        ),
        pytest.param({"min": "0 gal/ac"}, 1, 26, "0, or 1 to 26 gal/ac in steps of 1", id="min 0"),
        pytest.param(
            {"min": "0 gal/ac", "step_from": "min"}, 1, 26, "0, or 1 to 26 gal/ac in steps of 1", id="min 0, from min"
        ),
        pytest.param({"off_allowed": False}, 8, 26, "8 to 26 gal/ac in steps of 1", id="never off"),
        pytest.param({"min": "8 gal/ac", "max": "8 gal/ac"}, 8, 8, "0, or 8 to 8 gal/ac in steps of 1", id="one rate"),
        # 75 L/ha is 8.018 gal/ac and 240 L/ha 25.66: by 9.353956229 L/ha for 1 gal/ac.
        pytest.param({"min": "75 L/ha", "max": "240 L/ha"}, 9, 25, "0, or 9 to 25 gal/ac in steps of 1", id="in L/ha"),
    ],
)  # fmt: skip
def test_the_allowed_rates(keys: dict[str, Any], first: Fraction, last: Fraction, text: str) -> None:
    """The multiples of the step within min and max, counted from zero or from min."""
    of = product(**keys)
    assert (of.rate_of(of.first), of.rate_of(of.last), of.allowed_text) == (first, last, text)


def test_limits_in_another_unit_stay_exact() -> None:
    """A min of 8 gal/ac written in L/ha, to the last digit of the definitions, is 8 gal/ac; steps start there."""
    litres = Fraction(8) * unit("gal/ac").factor / unit("L/ha").factor
    of = product(min=Measure(litres, unit("L/ha")), step_from="min")
    assert of.lowest == 8
    assert of.rate_of(of.first + 3) == 11
    odd = product(min="75 L/ha", step_from="min")
    assert odd.rate_of(odd.first) == Fraction(75) * unit("L/ha").factor / unit("gal/ac").factor


@settings(max_examples=200, deadline=None)
@given(
    low=st.fractions(min_value=0, max_value=50, max_denominator=100),
    width=st.fractions(min_value=2, max_value=50, max_denominator=100),
    step=st.fractions(min_value=Fraction(1, 100), max_value=1, max_denominator=100),
    step_from=st.sampled_from(["zero", "min"]),
    at=st.floats(0, 1),
)
def test_number_and_rate_are_inverse(low: Fraction, width: Fraction, step: Fraction, step_from: str, at: float) -> None:
    """Each allowed number has a rate within the limits that leads back to it; rates between have none."""
    gallons = unit("gal/ac")
    of = product(
        min=Measure(low, gallons), max=Measure(low + width, gallons), step=Measure(step, gallons), step_from=step_from
    )
    number = of.first + int(at * (of.last - of.first))
    rate = of.rate_of(number)
    assert low <= rate <= low + width
    assert rate > 0
    assert of.number_of(rate) == number
    assert of.number_of(rate + step / 2) is None
    assert of.number_of(of.rate_of(of.last) + step) is None
    assert of.number_of(of.rate_of(of.first) - step) == (0 if of.rate_of(of.first) == step else None)


def test_off_is_number_zero_where_it_is_allowed() -> None:
    """0 is off; a product that can't be shut off has no number for it."""
    assert (product().number_of(Fraction(0)), product().rate_of(0)) == (0, 0)
    assert product(off_allowed=False).number_of(Fraction(0)) is None


@pytest.mark.parametrize(
    ("keys", "default", "outside", "no_position"),
    [
        pytest.param({}, 0, 0, 0, id="off unless said"),
        pytest.param({"default": "14 gal/ac"}, 14, 0, 14, id="no position follows the default"),
        pytest.param({"default": "14 gal/ac", "no_position": "0 gal/ac"}, 14, 0, 0, id="unless said"),
        pytest.param(
            {"off_allowed": False}, 8, 0, 8, id="what can't be shut off runs at its lowest, and is lifted outside"
        ),
        pytest.param({"off_allowed": False, "outside": "12 gal/ac"}, 8, 12, 8, id="unless it may run on outside"),
        pytest.param({"outside": "56 qt/ac"}, 0, 14, 0, id="in another unit"),
    ],
)
def test_what_holds_where_the_map_has_no_say(
    keys: dict[str, Any], default: int, outside: int, no_position: int
) -> None:
    """Inside the field, beyond it and without a signal, each has its rate."""
    of = product(**keys)
    assert of.number_where("default") == default
    assert of.number_where("outside") == outside
    assert of.number_where("no_position") == no_position


@pytest.mark.parametrize("text", ["2800 /lb", "2800/lb", "2800 seeds/lb", "2800 seeds / lb", "2.8e3 /lb", " 2800 / lb"])
def test_seeds_a_pound_may_leave_out_the_word(text: str) -> None:
    """Seeds a pound are read with and without the word."""
    found = seed(seeds_per=text).seeds_per
    assert found is not None
    assert str(found) == "2800 seeds/lb"


def test_a_product_travels_between_processes() -> None:
    """A pickled product is the same product, also after its limits were looked up."""
    of = granular(analysis={"N": "27 %"})
    assert of.last == 40
    again = pickle.loads(pickle.dumps(of))
    assert again == of
    assert again.rate_text(again.last) == "200 kg/ha"


def test_a_metric_plan_has_no_plain_gallon() -> None:
    """The words of a product are those of its plan."""
    with pytest.raises(ValidationError, match="US or an imperial"):
        product(dialect=Dialect("metric"))
    assert isinstance(product(dialect=Dialect("metric"), min="70 L/ha", max="240 L/ha", step="5 L/ha"), Product)
