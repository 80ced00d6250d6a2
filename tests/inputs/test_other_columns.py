"""Columns of a map beside the one of its rates."""

from __future__ import annotations

import numpy as np
import pytest

from vrx.inputs.other_columns import area_columns, product_columns
from vrx.model.layer import Column, Layer


def layer_of(**columns: tuple[float, ...]) -> Layer:
    cells = {name: Column(name=name, kind="number", cells=values) for name, values in columns.items()}
    nothing = np.full(2, None, dtype=object)
    return Layer(source="map", crs="EPSG:4326", shapes=nothing, columns=cells, records=np.array([1, 2]))


@pytest.mark.parametrize(
    ("name", "states"),
    [("ACRES", True), ("Shape_Area", True), ("area_ha", True), ("RATE_GAL_AC", False), ("lb_per_acre", False),
     ("hazard", False)],
)  # fmt: skip
def test_columns_that_state_an_area(name: str, states: bool) -> None:
    """Names tell areas; a rate per area is none."""
    assert list(area_columns(layer_of(**{name: (1.5, 2.0)}))) == ([name] if states else [])


def test_columns_of_products() -> None:
    """By the bundle, or by a column of the product's name; one alone tells nothing of another."""
    found = product_columns(
        layer_of(RATE_1=(1, 0), lime=(0, 2), other=(5, 5)), {"RATE_1": "UAN 32"}, ("UAN 32", "Lime")
    )
    assert {name: values.tolist() for name, values in found.items()} == {"UAN 32": [1, 0], "Lime": [0, 2]}
    assert product_columns(layer_of(lime=(0, 2), other=(5, 5)), {}, ("UAN 32", "Lime")) == {}
