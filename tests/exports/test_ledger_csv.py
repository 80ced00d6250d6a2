"""Ledgers as CSV."""

from __future__ import annotations

import csv
import io
import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrx.errors import OutputError
from vrx.exports.ledger_csv import ledger_csv

PLAIN = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=12)


def cells(content: bytes) -> list[list[str]]:
    """Read with the standard library's reader, strictly."""
    return list(csv.reader(io.StringIO(content.decode(), newline=""), strict=True))


def test_lines_end_on_cr_lf_without_a_byte_order_mark() -> None:
    """Every line, the last one too, ends on CR LF (RFC 4180, section 2); the text is plain UTF-8."""
    assert ledger_csv(["zone", "größe"], [["A", 1]]) == "zone,größe\r\nA,1\r\n".encode()


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        pytest.param('a"b', '"a""b"', id="a quote is doubled"),
        pytest.param("a,b", '"a,b"', id="comma"),
        pytest.param("a\r\nb", '"a\r\nb"', id="line break"),
        pytest.param("a;b", '"a;b"', id="a semicolon divides cells in half of Europe"),
        pytest.param(" a", '" a"', id="a leading blank"),
        pytest.param("", "", id="empty text"),
        pytest.param(None, "", id="nothing"),
        pytest.param(True, "True", id="truth is no number"),
        pytest.param(0.1, "0.1", id="shortest text of a float"),
        pytest.param(0.1 + 0.2, "0.30000000000000004", id="full precision"),
        pytest.param(-5, "-5", id="a negative number is no formula"),
        pytest.param(-1e-30, "-1e-30", id="exponent"),
        pytest.param(Fraction(1, 4), "0.25", id="fraction"),
        pytest.param(Fraction(4, 1), "4.0", id="whole fraction"),
        pytest.param(np.float64(0.1), "0.1", id="numpy float"),
        pytest.param(np.int64(7), "7", id="numpy integer"),
        pytest.param(2**70, str(2**70), id="large integer"),
    ],
)
def test_a_cell_is_written_as(cell: object, text: str) -> None:
    """Text is quoted where a reader needs it, numbers keep every digit."""
    assert ledger_csv(["x"], [[cell]]) == f"x\r\n{text}\r\n".encode()


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝"])
def test_a_text_that_a_spreadsheet_would_run_is_neutralised(start: str) -> None:
    """Texts that begin like a formula get an apostrophe, in the header too (OWASP, "CSV Injection", from memory)."""
    text = f"{start}HYPERLINK(1)"
    assert cells(ledger_csv([text], [[text]])) == [["'" + text], ["'" + text]]


@given(st.lists(st.tuples(PLAIN, st.floats(allow_nan=False, allow_infinity=False), st.integers()), max_size=6))
def test_what_is_written_is_read_back(rows: list[tuple[str, float, int]]) -> None:
    """Another reader gets every text, but for the apostrophe, and every number to the last bit."""
    got = cells(ledger_csv(["text", "float", "integer"], rows))[1:]
    for (text, number, whole), (read_text, read_number, read_whole) in zip(rows, got, strict=True):
        assert read_text in (text, "'" + text)
        assert math.copysign(1, float(read_number)) == math.copysign(1, number)
        assert float(read_number) == number
        assert int(read_whole) == whole
        assert not read_text.startswith(tuple("=+-@\t\r"))


def test_a_row_of_another_length_is_refused() -> None:
    """A table is a rectangle."""
    with pytest.raises(OutputError, match="Row 2 of a table has 1 cells"):
        ledger_csv(["a", "b"], [[1, 2], [3]])


@pytest.mark.parametrize("number", [math.nan, math.inf, np.float64("-inf")])
def test_a_number_that_is_not_finite_is_refused(number: float) -> None:
    """A ledger holds finite numbers, and the message says in which row and column one does not."""
    with pytest.raises(OutputError, match="row 1, acres"):
        ledger_csv(["acres"], [[number]])
