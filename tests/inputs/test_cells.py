from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrx.inputs.cells import NO_DATA_CODES, cell_text, read_numbers
from vrx.model.layer import Cell, Column


def column(*cells: Cell) -> Column:
    return Column(name="rate", kind="text", cells=cells)


@pytest.mark.parametrize(
    ("cell", "decimal", "value"),
    [
        pytest.param("0", ".", 0.0, id="a true zero"),
        pytest.param(" 12.5 ", ".", 12.5, id="outer spaces"),
        pytest.param("-3", ".", -3.0, id="negative"),
        pytest.param("+.5", ".", 0.5, id="no digit before the point"),
        pytest.param("12.", ".", 12.0, id="no digit behind the point"),
        pytest.param("1.2E-3", ".", 0.0012, id="exponent"),
        pytest.param("12,5", ",", 12.5, id="declared decimal comma"),
        pytest.param("0,250", ",", 0.25, id="no group of thousands starts with 0"),
        pytest.param("1.250", ".", 1.25, id="a declared point is a point"),
        pytest.param("43,901650", ",", 43.90165, id="six decimals"),
        pytest.param(7, ",", 7.0, id="an integer"),
        pytest.param(7.25, ",", 7.25, id="a float, whatever the mark"),
    ],
)
def test_clean_numbers_are_read(cell: Cell, decimal: str, value: float) -> None:
    """A clean number has its value and is not reported."""
    numbers = read_numbers(column(cell), decimal=decimal)
    assert numbers.values.tolist() == [value]
    assert numbers.bad == ()


@pytest.mark.parametrize(
    ("cell", "decimal", "kind"),
    [
        pytest.param(None, ".", "empty", id="nothing"),
        pytest.param("   ", ".", "empty", id="spaces"),
        pytest.param("12,5", ".", "not-a-number", id="undeclared comma"),
        pytest.param("12.5", ",", "not-a-number", id="point under a declared comma"),
        pytest.param("1,250", ".", "two-readings", id="1250 or 1.25"),
        pytest.param("1,250", ",", "two-readings", id="1250 or 1.25, comma declared"),
        pytest.param("1.250", ",", "two-readings", id="a point under a declared comma, three digits"),
        pytest.param("NULL", ".", "not-a-number", id="NULL"),
        pytest.param("1.#QNAN", ".", "not-a-number", id="a C runtime's NaN"),
        pytest.param("1.#IND00", ".", "not-a-number", id="a C runtime's indefinite"),
        pytest.param("n/a", ".", "not-a-number", id="n/a"),
        pytest.param("12 gal", ".", "not-a-number", id="a unit"),
        pytest.param("nan", ".", "not-a-number", id="nan"),
        pytest.param("Infinity", ".", "not-a-number", id="Infinity"),
        pytest.param("1e999", ".", "not-a-number", id="beyond all floats"),
        pytest.param("١٢", ".", "not-a-number", id="digits of another script"),
        pytest.param("1_000", ".", "not-a-number", id="underscore"),
        pytest.param("0x10", ".", "not-a-number", id="hexadecimal"),
        pytest.param(True, ".", "not-a-number", id="a truth value"),
        pytest.param(math.nan, ".", "not-a-number", id="float NaN"),
        pytest.param(-math.inf, ".", "not-a-number", id="float infinity"),
        pytest.param(10**400, ".", "not-a-number", id="an integer beyond floats"),
        pytest.param("-9999.00", ".", "no-data-code", id="-9999"),
        pytest.param(-32768, ".", "no-data-code", id="lowest 16-bit integer"),
        pytest.param(-3.4028234663852886e38, ".", "no-data-code", id="lowest 32-bit float"),
        pytest.param("3.4028235e+38", ".", "no-data-code", id="highest 32-bit float"),
    ],
)
def test_what_is_no_number_is_reported_with_its_reason(cell: Cell, decimal: str, kind: str) -> None:
    """Such a cell is NaN, and listed with its text and reason."""
    numbers = read_numbers(column(1, cell), decimal=decimal)
    assert np.isnan(numbers.values).tolist() == [False, True]
    assert [(bad.index, bad.text, bad.kind) for bad in numbers.bad] == [(1, cell_text(cell), kind)]


@given(st.lists(st.floats(-1e29, 1e29).filter(lambda number: number not in NO_DATA_CODES)))
def test_written_floats_come_back_exactly(numbers: list[float]) -> None:
    """Any number that is written out is read as the same number, as text with either mark and as it is."""
    text = [repr(number) for number in numbers]
    doubtful = [part.replace(".", ",") for part in text]
    assert read_numbers(column(*numbers)).values.tolist() == numbers
    assert read_numbers(column(*text)).values.tolist() == numbers
    found = read_numbers(column(*doubtful), decimal=",")
    assert all(bad.kind == "two-readings" for bad in found.bad)
    good = np.isfinite(found.values)
    assert found.values[good].tolist() == np.array(numbers)[good].tolist()


@given(st.lists(st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=6)))
def test_any_cells_can_be_read(cells: list[Cell]) -> None:
    """Whatever the cells hold, each is a finite number or reported once."""
    numbers = read_numbers(column(*cells))
    assert len(numbers.values) == len(cells)
    assert [bad.index for bad in numbers.bad] == np.flatnonzero(~np.isfinite(numbers.values)).tolist()


def test_the_mark_is_a_point_or_a_comma() -> None:
    """Another decimal mark is a mistake of the caller."""
    with pytest.raises(ValueError, match="decimal is ';'"):
        read_numbers(column("1"), decimal=";")


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        pytest.param(12.0, "12", id="a whole float"),
        pytest.param(12.25, "12.25", id="a float"),
        pytest.param(-9999, "-9999", id="an integer"),
        pytest.param(" A ", "A", id="text"),
        pytest.param(False, "false", id="a truth value"),
        pytest.param(None, "", id="nothing"),
    ],
)
def test_cells_in_words(cell: Cell, text: str) -> None:
    """People read 12, not 12.0."""
    assert cell_text(cell) == text
