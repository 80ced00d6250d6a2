"""Which column holds the rates, what its name says of the unit, and what a map says of itself."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
import shapely

from vrx.inputs.cells import read_numbers
from vrx.inputs.rate_column import (
    candidates,
    decimals_of_numbers,
    file_says,
    only_one_meant,
    record_names,
    unit_in_name,
    words_of,
)
from vrx.model.layer import Column, Layer
from vrx.units import Dialect


def layer(**columns: Sequence[Any]) -> Layer:
    """A layer of three records with these columns; those whose cells are all text are of text."""
    made = {
        name: Column(name=name, kind="text" if all(isinstance(one, str) for one in cells) else "number",
                     cells=tuple(cells))
        for name, cells in columns.items()
    }  # fmt: skip
    shapes = np.array([shapely.box(0, 0, 1, 1)] * 3, dtype=object)
    return Layer(source="map", crs="EPSG:4326", shapes=shapes, columns=made, records=np.arange(1, 4))


@pytest.mark.parametrize(
    ("columns", "meant"),
    [
        pytest.param({"RATE": (1, 5, 3)}, ("RATE", True), id="named"),
        pytest.param({"kg_ha": (1, 5, 3), "om": (2.5, 3, 4)}, ("kg_ha", True), id="named by its unit"),
        pytest.param({"RATE2": (1, 5, 3), "om": (2.5, 3, 4)}, ("RATE2", True), id="named, with a number"),
        pytest.param({"RATE": (1, 5, 3), "om": (2.5, 3, 4)}, ("RATE", True), id="one of two is named"),
        pytest.param({"om": (2.5, 3, 4)}, ("om", False), id="the only one there is"),
        pytest.param({"rate_n": (1, 5, 3), "rate_p": (2, 2, 4)}, ("", False), id="two are named"),
        pytest.param({"om": (2.5, 3, 4), "cec": (8, 9, 11)}, ("", False), id="two, and none is named"),
        pytest.param({"OBJECTID": (1, 2, 3), "om": (2.5, 3, 4)}, ("om", False), id="a number of records is none"),
        pytest.param({"rows": (1, 2, 3), "om": (2.5, 3, 4)}, ("om", False), id="nor what counts records"),
        pytest.param({"Acres": (1, 5, 3), "om": (2.5, 3, 4)}, ("om", False), id="nor an area"),
        pytest.param({"zone": ("A", "B", "C")}, ("", False), id="words"),
        pytest.param({"dose": ("1", "n/a", "-")}, ("dose", True), id="named, though hardly a number is in it"),
        pytest.param({"notes": ("1", "wet", "dry")}, ("", False), id="a number among words"),
    ],
)
def test_the_column_that_alone_can_be_meant(columns: dict[str, Sequence[Any]], meant: tuple[str, bool]) -> None:
    """It is taken where only one can be, and none where two could."""
    assert only_one_meant(candidates(layer(**columns))) == meant


def test_candidates_are_told_with_their_range() -> None:
    """In the file's order, without the cells that hold no number."""
    found = candidates(layer(rate_b=(7, None, 3), rate_a=("1,5", "x", "2,5")), decimal=",")
    assert [(one.name, one.lowest, one.highest, one.count) for one in found] == [
        ("rate_b", 3, 7, 2),
        ("rate_a", 1.5, 2.5, 2),
    ]


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("RATE_GAL_AC", "gal/ac"),
        ("rate_l_ha", "L/ha"),
        ("rate_lb_N_ac", "lb N/ac"),
        ("kg_P2O5_ha", "kg P2O5/ha"),
        ("gpa", "gal/ac"),
        ("ksds_ac", None),
        ("seeds_ac", "seeds/ac"),
        ("RATE", None),
        ("lb_P_ac", None),
    ],
)
def test_units_that_names_of_columns_tell(name: str, unit: str | None) -> None:
    """P without oxide or element, and words that are no units, tell none."""
    found = unit_in_name(name, Dialect("us"))
    assert (None if found is None else found.name) == unit


def test_a_gallon_is_no_hint_where_there_are_two() -> None:
    """Outside a plan in US units gal is a US or an imperial one."""
    assert unit_in_name("rate_gal_ac", Dialect()) is None


@pytest.mark.parametrize(
    ("cells", "decimals"),
    [((1, 5, 3), 0), ((0.1, 5, 12.25), 2), (("1.50", "2.000", "3"), 1), (("1e-3", "5", ""), 3), ((None, None, 7), 0)],
)
def test_decimals_as_written(cells: tuple[Any, ...], decimals: int) -> None:
    """Zeros at the end do not count."""
    column = Column(name="rate", kind="number", cells=cells)
    assert decimals_of_numbers(column, read_numbers(column)) == decimals


def test_what_a_map_says_of_itself() -> None:
    """Where all records agree, and only then."""
    said = file_says(layer(SEASON=(2027, 2027, 2027), Crop=("oats", "oats", "rye"), product=("Urea", "Urea", "Urea")))
    assert said == {"season": "2027", "product": "Urea"}


@pytest.mark.parametrize(
    ("columns", "names"),
    [
        ({"ZoneName": ("north", "mid", "south")}, ("north", "mid", "south")),
        ({"zone": (1.0, 2.0, 2.5)}, ("1", "2", "2.5")),
        ({"rate": (1, 2, 3)}, ()),
    ],
)
def test_what_a_map_calls_its_records(columns: dict[str, Sequence[Any]], names: tuple[str, ...]) -> None:
    """By the column that names zones."""
    assert record_names(layer(**columns)) == names


def test_words_of_a_name() -> None:
    """Parted at signs and where a capital follows a small letter."""
    assert words_of("RateGal_ac-2") == ["rate", "gal", "ac", "2"]
