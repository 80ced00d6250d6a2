"""Where lines of the cab card break, and what stands in for what can't be printed."""

from __future__ import annotations

from itertools import pairwise

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from vrx.reports.card.text import STAND_IN, TOGETHER, shown, wrapped
from vrx.reports.fonts import font_file, text_width

SIZE = 10.0


def lines(text: str, ems: float) -> tuple[str, ...]:
    return wrapped(text, width=ems * SIZE, size=SIZE, bold=False)


@pytest.mark.parametrize(
    ("text", "as_shown"),
    [
        pytest.param("Łąka Ελιά Поле", "Łąka Ελιά Поле", id="alphabets"),
        pytest.param("e\u0301", "\u00e9", id="composed"),
        pytest.param("two\n lines\tone", "two lines one", id="one line"),
        pytest.param("\u7530", STAND_IN, id="not in the font"),
        pytest.param("a\u202eb\u200bc\x07d\ud800e", STAND_IN.join("abcde"), id="hidden"),
        pytest.param("<b>&amp;</b>", "<b>&amp;</b>", id="markup stays text"),
        pytest.param("", "", id="nothing"),
    ],
)
def test_what_can_be_printed(text: str, as_shown: str) -> None:
    """The same text where the font has it; else something that is seen."""
    assert shown(text) == as_shown


@given(st.text())
def test_all_that_is_shown_is_in_the_font(text: str) -> None:
    """By the font's own table, in both weights."""
    for bold in (False, True):
        with TTFont(font_file(bold), lazy=True) as font:
            assert {ord(one) for one in shown(text)} <= font.getBestCmap().keys()


@given(st.text(max_size=200), st.floats(1.5, 40.0))
def test_no_line_is_too_wide_and_no_letter_is_lost(text: str, ems: float) -> None:
    """A letter of DejaVu Sans that is wider than a line stands alone."""
    found = lines(text, ems)
    assert "".join("".join(found).split()) == "".join(shown(text).split())
    assert all(text_width(line, size=SIZE) <= ems * SIZE + 1e-9 or len(line) == 1 for line in found)


def test_a_line_is_as_full_as_it_can_be() -> None:
    """The next word would not have fitted."""
    text = "leave the ford by the old oak where the bank is soft"
    found = lines(text, 8.0)
    assert len(found) > 2
    assert " ".join(found) == text
    for line, after in pairwise(found):
        assert text_width(f"{line} {after.split()[0]}", size=SIZE) > 8.0 * SIZE


def test_an_amount_is_not_parted_from_its_unit() -> None:
    """Spaces that keep together become common ones on paper."""
    amounts = ("3.986 short ton", "3,615.6 kg", "3.616 tonne")
    text = ", ".join(one.replace(" ", TOGETHER) for one in amounts)
    for ems in range(9, 20):
        found = lines(text, ems)
        assert all(any(amount in line for line in found) for amount in amounts)
    assert len(lines(text, 9)) == 3


def test_a_long_name_breaks_at_its_joints() -> None:
    """Where that leaves no line half empty; else anywhere."""
    assert lines("quail-bench_2027_thiosulfate", 12.0)[0] == "quail-bench_2027_"
    full, *_, rest = lines("w" * 100, 8.0)
    assert lines("w" * 100, 8.0) == (*[full] * (100 // len(full)), rest)
    assert text_width(full + "w", size=SIZE) > 8.0 * SIZE
