"""Flow from rate, speed and width, and back; through the density and the seed weight where kinds differ."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support_products import granular, product, seed, unit

from vrx.dosing.conversion import conversion_to_product
from vrx.dosing.flow import flow_factor, flow_of, flow_si, rate_for, rate_of_flow, speed_for, speed_of_flow
from vrx.errors import UnitError
from vrx.model.product import Product

UAN = product(density="10.66 lb/gal", analysis={"N": "28 %"})
SEED = seed(seeds_per="2800 seeds/lb")
MPH, FOOT = unit("mph").factor, unit("ft").factor

POSITIVE = st.fractions(min_value=Fraction(1, 1000), max_value=10**6)


@given(rate=POSITIVE, speed=POSITIVE, width=POSITIVE)
def test_there_and_back_again(rate: Fraction, speed: Fraction, width: Fraction) -> None:
    """Rate and speed come back from the flow, exactly."""
    flow = flow_si(rate, speed, width)
    assert rate_for(flow, speed, width) == rate
    assert speed_for(flow, rate, width) == speed


@pytest.mark.parametrize(
    ("of", "in_unit"),
    [
        pytest.param(UAN, "gal/min", id="a volume of a volume"),
        pytest.param(UAN, "lb/min", id="a mass of a volume"),
        pytest.param(UAN, "kg N/h", id="a nutrient of a volume"),
        pytest.param(SEED, "seeds/s", id="a count of a count"),
        pytest.param(SEED, "kg/min", id="a mass of a count"),
        pytest.param(granular(), "kg/min", id="a mass of a mass"),
    ],
)
@given(rate=POSITIVE, speed=POSITIVE, width=POSITIVE)
def test_there_and_back_again_in_units(
    of: Product, in_unit: str, rate: Fraction, speed: Fraction, width: Fraction
) -> None:
    """In the product's own rates and any unit of flow too."""
    flow = flow_of(of, rate, speed, width, unit(in_unit))
    assert rate_of_flow(of, flow, unit(in_unit), speed, width) == rate
    assert speed_of_flow(of, flow, unit(in_unit), rate, width) == speed


@pytest.mark.parametrize(
    ("of", "rate", "same", "in_unit"),
    [
        pytest.param(UAN, "20", "213.2 lb/ac", "lb/min", id="by the density: 20 x 10.66"),
        pytest.param(UAN, "20", "59.696 lb N/ac", "lb N/min", id="by density and analysis: 20 x 10.66 x 0.28"),
        pytest.param(SEED, "28000", "10 lb/ac", "lb/min", id="by the seed count: 28000 / 2800"),
        pytest.param(
            seed(thousand_seed_weight="250 g"), "40000", "10000 g/ac", "g/min", id="by the weight of a thousand"
        ),
        pytest.param(
            granular(density="1.1 kg/L"), "110", "100 L/ha", "L/min",
            id="a volume of a dry product",
        ),
    ],
)  # fmt: skip
def test_through_the_figures_of_the_label(of: Product, rate: str, same: str, in_unit: str) -> None:
    """The flow in another kind is that of the same rate told in that kind, worked out by hand."""
    number, name = same.split(" ", 1)
    per_m2 = Fraction(number) * unit(name).factor
    by_hand = per_m2 * 5 * MPH * 60 * FOOT / unit(in_unit).factor
    assert flow_of(of, Fraction(rate), 5 * MPH, 60 * FOOT, unit(in_unit)) == by_hand
    # The same conversion as that of wanted rates, which has published checks of its own.
    assert Fraction(number) * conversion_to_product(unit(name), of).factor == Fraction(rate)


@pytest.mark.parametrize(
    ("of", "in_unit", "words"),
    [
        pytest.param(product(), "lb/min", "no density", id="no density"),
        pytest.param(seed(), "lb/min", "no seed weight", id="no seed weight"),
        pytest.param(product(), "lb N/min", "no analysis", id="no analysis"),
        pytest.param(product(), "gal/ac", "not a flow", id="a rate"),
        pytest.param(product(), "mph", "not a flow", id="a speed"),
        pytest.param(product(), "gal", "not a flow", id="an amount"),
    ],
)
def test_what_is_missing_is_named(of: Product, in_unit: str, words: str) -> None:
    """Without a figure there is no flow, and the error says which to give."""
    with pytest.raises(UnitError, match=words) as caught:
        flow_factor(of, unit(in_unit))
    assert caught.value.remedy


def test_nothing_gone_over_has_no_rate_or_speed() -> None:
    """No speed, width or rate above 0: refused in words, and no division by 0."""
    one, none = Fraction(1), Fraction(0)
    for function, first, second in (
        (rate_for, none, one), (rate_for, one, none), (speed_for, none, one), (speed_for, one, none),
        (speed_for, -one, one),
    ):  # fmt: skip
        with pytest.raises(UnitError):
            function(one, first, second)
