"""Where in a TOML text keys and values stand: for complaints their lines, for changes in the text the text itself.

The text is scanned once, without building values: it has been parsed before, so it is known to be sound.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left
from collections.abc import Iterable
from typing import Final, NamedTuple

from vrx.model.keys import KeyPath

_BLANK: Final = re.compile(r"(?:[ \t\n]+|#[^\n]*)*")
_KEY: Final = re.compile(r"""[A-Za-z0-9_-]+|"(?:\\.|[^"\\\n])*"|'[^'\n]*'""")
_DOT: Final = re.compile(r"[ \t]*\.[ \t]*")
_SCALAR: Final = re.compile(
    r'''"""(?:\\.|[^\\])*?""""{0,2}|\'\'\'.*?\'\'\'\'{0,2}|"(?:\\.|[^"\\\n])*"|'[^'\n]*'|[^,\]}\n#]+''', re.DOTALL
)


def lines_of(text: str, paths: Iterable[KeyPath]) -> dict[KeyPath, int]:
    """Return the line, from 1, of each key, list element or table header.

    Parameters
    ----------
    text : str
        Sound TOML.
    paths : iterable of tuple
        Keys, and positions in lists from 0. Where there is no such value, the line is that of what it would
        stand in, up to the table's header.

    Returns
    -------
    dict
        Without the paths that have no line, such as a table that is missing altogether.
    """
    lines = _Scan(text.replace("\r\n", "\n")).lines
    found = {}
    for path in paths:
        line = next((lines[path[:size]] for size in range(len(path), 0, -1) if path[:size] in lines), None)
        if line is not None:
            found[path] = line
    return found


class Statement(NamedTuple):
    """A header or a pair of key and value, from its first character to behind its last, without what follows it."""

    path: KeyPath
    start: int
    end: int
    is_header: bool


def statements_of(text: str) -> tuple[list[Statement], dict[KeyPath, tuple[int, int]]]:
    """Return a text's headers and pairs in their order, and where each value begins and ends, nested ones too.

    Parameters
    ----------
    text : str
        Sound TOML, with LF alone.
    """
    scan = _Scan(text)
    return scan.statements, scan.values


class _Scan:
    """One walk through a text; ``lines``, ``statements`` and ``values`` hold what it saw."""

    def __init__(self, text: str) -> None:
        self.lines: dict[KeyPath, int] = {}
        self.statements: list[Statement] = []
        self.values: dict[KeyPath, tuple[int, int]] = {}
        self._text = text
        self._ends = [match.start() for match in re.finditer("\n", text)]
        self._counts: dict[KeyPath, int] = {}
        self._at = 0
        table: KeyPath = ()
        self._skip_blank()
        while self._at < len(text):
            start = self._at
            is_header = text[start] == "["
            if is_header:
                path = table = self._header()
            else:
                path = self._pair(table)
            self.statements.append(Statement(path, start, start + len(text[start : self._at].rstrip()), is_header))
            self._skip_blank()

    def _line(self) -> int:
        return bisect_left(self._ends, self._at) + 1

    def _skip_blank(self) -> None:
        blank = _BLANK.match(self._text, self._at)
        self._at = blank.end() if blank else self._at

    def _key(self) -> list[str]:
        parts = []
        while match := _KEY.match(self._text, self._at):
            word = match.group()
            parts.append(tomllib.loads(f"key = {word}")["key"] if word[0] in "\"'" else word)
            self._at = match.end()
            dot = _DOT.match(self._text, self._at)
            if not dot:
                break
            self._at = dot.end()
        return parts

    def _header(self) -> KeyPath:
        line = self._line()
        repeated = self._text.startswith("[[", self._at)
        self._at += 1 + repeated
        self._skip_blank()
        path: KeyPath = ()
        parts = self._key()
        for part in parts[:-1]:
            path = (*path, part)
            self.lines.setdefault(path, line)
            if path in self._counts:
                path = (*path, self._counts[path] - 1)
        path = (*path, parts[-1])
        if repeated:
            self.lines.setdefault(path, line)
            self._counts[path] = self._counts.get(path, 0) + 1
            path = (*path, self._counts[path] - 1)
        self.lines[path] = line  # its own header counts more than a part of an earlier one
        self._skip_blank()
        self._at += 1 + repeated
        return path

    def _pair(self, table: KeyPath) -> KeyPath:
        line = self._line()
        path = table
        for part in self._key():
            path = (*path, part)
            self.lines.setdefault(path, line)
        self._skip_blank()
        self._at += 1  # the equals sign
        self._skip_blank()
        self._value(path)
        return path

    def _value(self, path: KeyPath) -> None:
        self.lines.setdefault(path, self._line())
        start = self._at
        self._contents(path)
        self.values[path] = (start, start + len(self._text[start : self._at].rstrip()))

    def _contents(self, path: KeyPath) -> None:
        opening = self._text[self._at]
        if opening not in "[{":
            scalar = _SCALAR.match(self._text, self._at)
            self._at = scalar.end() if scalar else len(self._text)
            return
        self._at += 1
        self._skip_blank()
        nth = 0
        while self._text[self._at] not in "]}":
            if opening == "[":
                self._value((*path, nth))
            else:
                self._pair(path)
            nth += 1
            self._skip_blank()
            if self._text[self._at] == ",":
                self._at += 1
                self._skip_blank()
        self._at += 1
