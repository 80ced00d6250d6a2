"""Cautions for what can hurt someone."""

from __future__ import annotations

import pytest
from support_products import granular, product, seed
from support_zone_maps import plan_of

from vrx.model.product import Product
from vrx.reports.cautions import cautions


@pytest.mark.parametrize(
    ("of", "words"),
    [
        pytest.param(granular(), ["nutrient rules"], id="fertiliser"),
        pytest.param(product(use="crop protection"), ["label is the law"], id="crop protection"),
        pytest.param(granular(use="lime"), ["nutrient rules"], id="lime"),
        pytest.param(
            product(form="gas", min="100 lb/ac", max="200 lb/ac", step="5 lb/ac"),
            ["ammonia", "goggles", "water"],
            id="a gas",
        ),
        pytest.param(seed(), [], id="seed"),
    ],
)
def test_cautions_for_what_can_hurt(of: Product, words: list[str]) -> None:
    """In our own words; a qualified person and the machine's manual always."""
    said = " ".join(cautions(plan_of(of)))
    assert "qualified person" in said
    assert all(word in said for word in words)
    for word in {"label is the law", "nutrient rules", "ammonia"} - set(words):
        assert (word in said) is (of.form == "gas" and word == "nutrient rules")
