"""Areas of parts: as measured where one is, about so much where several are put together."""

from __future__ import annotations

from dataclasses import replace

import pytest
from support_html_content import rates

from vrx.model.content import ProductContent
from vrx.reports.maps.part_areas import key_area, small_parts


def parts_of(*areas: str) -> ProductContent:
    """Return a product with a square of a hectare for each area that is said."""
    product = rates("Seed", ["80"] * len(areas))
    return replace(
        product, patches=tuple(replace(one, area=area) for one, area in zip(product.patches, areas, strict=True))
    )


@pytest.mark.parametrize(
    ("areas", "unit", "text"),
    [
        pytest.param(["0.031"], "ha", "0.031", id="one, as it was measured"),
        pytest.param(["< 0.001"], "ha", "< 0.001", id="one too small to tell"),
        pytest.param(["1,204.500"], "ac", "1,204.500", id="a large one"),
        pytest.param(["0.031", "0.044"], "ha", "≈ 0.075", id="two together"),
        pytest.param(["0.500", "< 0.001"], "ha", "≈ 0.5", id="what is too small adds nothing"),
        pytest.param(["< 0.001", "< 0.001"], "ha", "< 0.01", id="two too small to tell"),
        pytest.param([""], "ha", "≈ 1", id="as drawn, where it was not measured"),
        pytest.param([""], "ac", "≈ 2.5", id="as drawn, in acres: 1 ha is 2.471 ac"),
    ],
)
def test_areas_in_the_key(areas: list[str], unit: str, text: str) -> None:
    """Of the parts that bear one number."""
    assert key_area(parts_of(*areas), range(len(areas)), unit) == text


@pytest.mark.parametrize(
    ("areas", "text"),
    [
        pytest.param([], "", id="none"),
        pytest.param(["0.031"], "1 smaller part, about 0.031 ha in all", id="one"),
        pytest.param(["0.031"] * 14, "14 smaller parts, about 0.43 ha in all", id="several"),
        pytest.param(["1.000"] * 1204, "1,204 smaller parts, about 1,204 ha in all", id="very many"),
    ],
)
def test_small_parts_are_counted(areas: list[str], text: str) -> None:
    """In one line, with what they come to."""
    product = parts_of(*areas) if areas else parts_of("1.000")
    assert small_parts(product, range(len(areas)), "ha") == text
