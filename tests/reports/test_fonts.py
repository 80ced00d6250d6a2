"""Fonts: widths as the font's own tables have them, and text that no format chokes on."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrx.reports.fonts import font_file, printable, text_width


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("text", ["12.5", "Łąka Größe", "AV fi ff", "≈ · �", ""])
def test_widths_are_those_of_the_font(text: str, bold: bool) -> None:
    """Source: the font's table of advances (hmtx), read by fontTools; no kerning, no ligature."""
    from fontTools.ttLib import TTFont

    with TTFont(font_file(bold)) as font:
        names, metrics = font.getBestCmap(), font["hmtx"]
        units = sum(metrics[names[ord(letter)]][0] for letter in text)
        expected = units * 10 / font["head"].unitsPerEm
    assert text_width(text, size=10, bold=bold) == pytest.approx(expected, abs=1e-9)


@given(st.text(), st.text(), st.floats(0.1, 100))
def test_widths_add_up(one: str, other: str, size: float) -> None:
    """A text is as wide as its parts, whatever is in it."""
    both = text_width(one + other, size=size)
    assert both == pytest.approx(text_width(one, size=size) + text_width(other, size=size))


@given(st.text())
def test_printable_text_is_one_line_that_xml_takes(text: str) -> None:
    """Whatever a file holds."""
    from xml.etree.ElementTree import Element, fromstring, tostring

    shown = printable(text)
    assert len(shown.splitlines()) <= 1
    element = Element("text")
    element.text = shown
    assert (fromstring(tostring(element)).text or "") == shown
    assert printable(shown) == shown


def test_text_can_not_turn_the_text_around_it() -> None:
    """Marks of the direction of writing are shown as unknown, halves of letters too."""
    assert printable("a\u202eb\ud800c\x00d\te") == "a�b�c�d e"
