"""What sentences share: lists cut short, names made safe to show, and what was meant."""

from __future__ import annotations

import pytest

from vrx.words import nearest, some, visible


@pytest.mark.parametrize(
    ("words", "said"),
    [
        pytest.param([], "", id="none"),
        pytest.param(["A"], "A", id="one"),
        pytest.param(["A", "B", "C"], "A, B, C", id="as many as are told"),
        pytest.param(["A", "B", "C", "D", "E"], "A, B, C and 2 more", id="more"),
        pytest.param([3, 4], "3, 4", id="numbers"),
    ],
)
def test_a_list_is_cut_short(words: list[object], said: str) -> None:
    """What is left out is counted."""
    assert some(words, 3) == said


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        pytest.param("A\x1b[31mB", r"A\x1b[31mB", id="a colour"),
        pytest.param("A\nB\tC\r", r"A\nB\tC\r", id="line ends and tabs"),
        pytest.param("A\u202eB", r"A\u202eB", id="a turned direction"),
        pytest.param("A\x9bB", r"A\x9bB", id="a control character of eight bits"),
        pytest.param("Łąka é поле 🌾 می‌خواهم", "Łąka é поле 🌾 می‌خواهم", id="letters stay"),
        pytest.param(r"C:\new", r"C:\new", id="a backslash stays"),
    ],
)
def test_what_is_not_seen_is_spelled_out(text: str, shown: str) -> None:
    """Control characters alone; letters of any language stay."""
    assert visible(text) == shown
    assert visible(shown) == shown


def test_some_of_them_may_stay() -> None:
    """Line ends in a text of several lines."""
    assert visible("A\n\x07B", keep="\n") == "A\n\\x07B"


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        pytest.param("UAN32", 'Did you mean "UAN 32"? ', id="a blank"),
        pytest.param("POTASH", 'Did you mean "potash"? ', id="capitals"),
        pytest.param("xyz", "", id="nothing near"),
    ],
)
def test_the_nearest_name_is_proposed(name: str, hint: str) -> None:
    """Where one is near enough."""
    assert nearest(name, ("UAN 32", "potash")) == hint
