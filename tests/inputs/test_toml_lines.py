"""The lines of keys and values, against texts in which each value says on which line it stands."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vrx.inputs.toml_lines import lines_of

TEXT = '''\
# first
a = [1, # two ] brackets
  2,

  [3, "x = 1"]]
b = """
[c]
\\""" "quoted" """
c.d."e f" = 1
[[p]]
x = 1
[p.q]
z = \'\'\'
[r]\'\'\'
[q]
[[p]]
x = {a = 1, b = {c = [2, 3]}}
[r.s]
t = 1979-05-27 07:32:00
[r]
u = "#"
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        pytest.param(("a",), 2, id="a key"),
        pytest.param(("a", 1), 3, id="a value of a list"),
        pytest.param(("a", 2, 1), 5, id="a value of a list in a list"),
        pytest.param(("b",), 6, id="text of several lines"),
        pytest.param(("c", "d", "e f"), 9, id="a dotted key"),
        pytest.param(("c",), 9, id="what a dotted key stands in"),
        pytest.param(("p",), 10, id="a list of tables"),
        pytest.param(("p", 0, "q", "z"), 13, id="a table in a list of tables"),
        pytest.param(("q",), 15, id="an empty table"),
        pytest.param(("p", 1), 16, id="the second of a list, apart from the first"),
        pytest.param(("p", 1, "x", "b", "c", 1), 17, id="deep inside a line"),
        pytest.param(("r", "s", "t"), 19, id="a date with a space"),
        pytest.param(("r",), 20, id="a header that comes after a part of its table"),
        pytest.param(("r", "u"), 21, id="text with a comment's sign"),
        pytest.param(("q", "missing"), 15, id="a key that is not there has its table's line"),
        pytest.param(("p", 0, "missing", 3), 10, id="a list that is not there, too"),
    ],
)
def test_a_path_has_its_line(path, line):
    """Each kind of key, value and header is found on the line where a person sees it."""
    assert lines_of(TEXT, [path]) == {path: line}


def test_what_is_nowhere_has_no_line():
    """A table that is missing has no line, and neither has the text as a whole."""
    assert lines_of(TEXT, [("nowhere",), ("nowhere", "at", 1), ()]) == {}


_KEY = st.sampled_from(["a", "b-c", "9", '"x y"', "'p.q'", '"[t]"', '"\\u00e9"'])
_BLANKS = st.sampled_from(["", "\n", "# note = [1\n", '\n\n# "\n'])


@st.composite
def _values(draw: st.DrawFn) -> str:
    """Draw a value whose scalars are all the mark @, for the line number."""
    kind = draw(st.sampled_from(["@", "text", "list", "table"]))
    if kind == "list":
        gap = draw(st.sampled_from([" ", "\n", " # ]\n"]))
        return "[" + ",".join(f"{gap}{draw(_values())}{gap}" for _ in range(draw(st.integers(0, 3)))) + "]"
    if kind == "table":
        keys = draw(st.lists(_KEY, max_size=2, unique=True))
        return "{ " + ", ".join(f"{key} = @" for key in keys) + " }"
    return '"""@\n]} # \n"""' if kind == "text" else "@"


@st.composite
def _texts(draw: st.DrawFn) -> str:
    """Draw TOML in which every number, and the start of every text, is the line that it stands on."""
    parts = []
    for nth in range(draw(st.integers(1, 5))):
        parts.append(draw(_BLANKS))
        if nth:
            name = draw(_KEY)
            parts.append(draw(st.sampled_from([f"[[t.{name}]]\n", f"[s{nth}.{name}]\n", f"[s{nth}]\n"])))
        keys = draw(st.lists(_KEY, max_size=3, unique=True))
        parts += [draw(_BLANKS) + f"{key} = {draw(_values())}\n" for key in keys]
    pieces = "".join(parts).split("@")
    text = pieces[0]
    for piece in pieces[1:]:
        text += str(text.count("\n") + 1) + piece
    return text


def _leaves(value: object, path: tuple[str | int, ...] = ()) -> list[tuple[tuple[str | int, ...], int]]:
    if isinstance(value, dict):
        return [leaf for key, inner in value.items() for leaf in _leaves(inner, (*path, key))]
    if isinstance(value, list):
        return [leaf for at, inner in enumerate(value) for leaf in _leaves(inner, (*path, at))]
    return [(path, int(str(value).split("\n")[0]))]


@settings(max_examples=300, deadline=None)
@given(text=_texts())
def test_every_value_is_found_on_the_line_that_it_names(text):
    """Whatever the layout, the line found for a value is the number that the value itself holds."""
    expected = dict(_leaves(tomllib.loads(text)))
    assert lines_of(text, expected) == expected
    assert lines_of(text.replace("\n", "\r\n"), expected) == expected
