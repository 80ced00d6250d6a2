"""Setting text: nothing is lost, and nothing is wider than its room."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from vrx.reports.fonts import printable, text_width
from vrx.reports.typeset import fitted, wrapped

NAMES = st.text(max_size=120)


@given(NAMES, st.floats(20, 200), st.booleans())
def test_wrapped_text_keeps_every_letter_within_its_width(text: str, width: float, bold: bool) -> None:
    """Broken at spaces, and within a word that is longer than a line."""
    lines = wrapped(text, width=width, size=3, bold=bold)
    assert "".join(lines).replace(" ", "") == printable(text).replace(" ", "")
    assert all(text_width(line, size=3, bold=bold) <= width for line in lines)


@given(NAMES, st.floats(20, 200))
def test_fitted_text_is_smaller_before_it_is_on_more_lines(text: str, width: float) -> None:
    """Never below the least size; on one line wherever that is enough."""
    found = fitted(text, width=width, size=6, least=3)
    assert 3 <= found.size <= 6
    assert all(text_width(line, size=found.size) <= width * (1 + 1e-9) for line in found.lines)
    if text_width(printable(text), size=3) <= width:
        assert len(found.lines) == 1


def test_words_stay_whole_where_they_can() -> None:
    """At 3 mm about 8 letters go into 15 mm."""
    assert wrapped("wet meadow by the brook", width=20, size=3) == ("wet meadow", "by the brook")
