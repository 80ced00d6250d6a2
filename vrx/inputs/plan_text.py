"""The text of a plan's files: opened with care, parsed, and the place of a complaint found in it."""

from __future__ import annotations

import json
import re
import stat
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final

from vrx.errors import PlanError
from vrx.inputs.toml_lines import lines_of
from vrx.model.keys import KeyPath

LARGEST_BYTES: Final = 2**20

_LONGEST_KEY: Final = 120
_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")
_WHERE_IN_TEXT: Final = re.compile(r"^(.*) \(at (?:line (\d+), column (\d+)|end of document)\)$", re.DOTALL)
_MARKS_OF_UTF16: Final = (b"\xff\xfe", b"\xfe\xff")
_REMEDIES: Final = {
    "overwrite": "A key or table stands there twice: keep one. Tables of which there can be several have two brackets.",
    "twice": "A table stands there twice: keep one. Tables of which there can be several have two brackets.",
    "mutate immutable": "A key or table stands there twice: keep one.",
    "Unescaped": "Write / between folders, or put the text in single quotes.",
    "Invalid value": 'Write text in quotes, such as "12 gal/ac"; numbers, true, false and dates without.',
    "Expected '='": 'Write key = value, such as name = "North".',
    "Illegal character '\\n'": "Close the quote on the same line.",
    "Unterminated": "Close the quote.",
    "Unclosed": "Close the bracket.",
    "Expected newline": "Write one key on a line; text goes in quotes.",
    "Invalid date": "Write year, month and day, such as 2027-04-12.",
    "Expected ']'": "Close the bracket of the table's name.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TomlFile:
    """A file as read: the plan's own, or one of shared products or machines.

    Attributes
    ----------
    name : str
        As people are told it: relative to the plan.
    path : Path
        Where it is.
    text : str
    values : dict
        The parsed text.
    """

    name: str
    path: Path
    text: str = field(repr=False)
    values: dict[str, Any] = field(repr=False)

    def places(self, paths: Iterable[KeyPath]) -> dict[KeyPath, tuple[str, int]]:
        """Return, for each path, where it is in words and its line: ``plan.toml: product[0].min, line 31``.

        The line is 0 where a table is missing altogether.
        """
        written = {path: as_written(path, self.values) for path in paths}
        lines = lines_of(self.text, written.values())
        return {path: (self._words(at, lines.get(at, 0)), lines.get(at, 0)) for path, at in written.items()}

    def _words(self, path: KeyPath, line: int) -> str:
        head = f"{self.name}: {key_text(path)}" if path else self.name
        return f"{head}, line {line}" if line else head


def as_written(path: KeyPath, values: Any) -> KeyPath:
    """Return a path as a file has it: what may be one table or a list of them is checked as a list.

    Where it is one table, its place in that list is no part of the path.
    """
    found: KeyPath = ()
    for step in path:
        if step == 0 and isinstance(step, int) and isinstance(values, dict):
            continue
        found = (*found, step)
        try:
            values = values[step]
        except (KeyError, IndexError, TypeError):
            values = None
    return found


def key_text(path: KeyPath) -> str:
    """Write a path as ``product[0].min``; a key that TOML would quote is quoted."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step}]"
        else:
            word = step if _BARE_KEY.fullmatch(step) else json.dumps(step, ensure_ascii=False)
            text += f".{word}" if text else word
    return text if len(text) <= _LONGEST_KEY else f"{text[:_LONGEST_KEY]}..."


def read_toml(path: Path, *, name: str = "", where: str = "") -> TomlFile:
    """Read a TOML file of at most 1 MiB.

    Parameters
    ----------
    path : Path
    name : str
        As people are told it; the file's name unless said.
    where : str
        What asked for the file, for the error when there is none.

    Raises
    ------
    PlanError
        No such file, not a file, too large, not UTF-8, or not TOML (with line and column).
    """
    called = name or path.name or str(path)
    text = _decoded(_bytes_of(path, called, where or str(path)), called)
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as err:
        raise _not_toml(str(err), text, called) from None
    except RecursionError:
        raise PlanError("Values are nested too deeply.", remedy="Take out needless brackets.", where=called) from None
    except ValueError as err:  # Python refuses to read a number of thousands of digits
        raise PlanError(f"This is not TOML: {err}.", remedy="Write numbers with fewer digits.", where=called) from None
    return TomlFile(name=called, path=path, text=text, values=values)


def missing_file(path: Path, name: str) -> tuple[str, str]:
    """Say that there is no such file, and which one nearby may be meant: problem and remedy."""
    problem = f"There is no file {name!r}."
    slashed = name.replace("\\", "/")
    if slashed != name and exists(path.with_name(slashed)):
        return problem, f'Write / between folders: "{slashed}".'
    try:
        others = {other.name.lower(): other.name for other in path.parent.iterdir()}
    except (OSError, ValueError):
        return f"{problem[:-1]}: its folder is not there either.", "Check the path, which is relative to the plan."
    near = get_close_matches(path.name.lower(), others, n=1, cutoff=0.6)
    hint = f'Did you mean "{others[near[0]]}", in the same folder? ' if near else ""
    return problem, f"{hint}Put it there, or mend its path, which is relative to the plan."


def exists(path: Path) -> bool:
    """Tell whether there is such a file or folder; a name that no file can have is none."""
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def _bytes_of(path: Path, called: str, where: str) -> bytes:
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            inside = "plan.toml" if exists(path / "plan.toml") else "NAME.toml"
            raise PlanError(
                f"{called!r} is a folder.", remedy=f"Name the file in it, such as {called}/{inside}.", where=where
            )
        if not stat.S_ISREG(status.st_mode):
            raise PlanError(f"{called!r} is not a regular file.", remedy="Name a TOML file.", where=where)
        if status.st_size > LARGEST_BYTES:
            raise PlanError(
                f"{called!r} has {status.st_size / 2**20:.1f} MiB; a plan's files have at most 1 MiB.",
                remedy='Name a plan; put rates of many zones into a CSV file, table = "rates.csv".',
                where=where,
            )
        return path.read_bytes()
    except FileNotFoundError:
        problem, remedy = missing_file(path, called)
        raise PlanError(problem, remedy=remedy, where=where) from None
    except (OSError, ValueError) as err:
        reason = getattr(err, "strerror", None) or str(err)
        raise PlanError(f"{called!r} can't be read: {reason}.", remedy="Check the path.", where=where) from None


def _decoded(raw: bytes, called: str) -> str:
    if raw.startswith(_MARKS_OF_UTF16):
        raise PlanError("The text is UTF-16.", remedy="Save it as UTF-8.", where=called)
    try:
        # A mark at the start, as some editors put it, says UTF-8 and nothing else.
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as err:
        line = raw.count(b"\n", 0, err.start) + 1
        raise PlanError(
            f"The byte 0x{raw[err.start]:02x} is not UTF-8.", remedy="Save it as UTF-8.", where=f"{called}, line {line}"
        ) from None


def _not_toml(message: str, text: str, called: str) -> PlanError:
    found = _WHERE_IN_TEXT.match(message)
    lines = text.replace("\r\n", "\n").split("\n")
    what = found.group(1) if found else message
    if found and found.group(2):
        line, where = int(found.group(2)), f"{called}, line {found.group(2)}, column {found.group(3)}"
    else:
        line, where = len(lines), f"{called}, line {len(lines)}"
    words = lines[line - 1].strip() if line <= len(lines) else ""
    seen = f", in {words[:60]!r}" if words else ""
    return PlanError(f"This is not TOML: {what}{seen}.", remedy=_how_to_write(what), where=where)


def _how_to_write(what: str) -> str:
    for words, remedy in _REMEDIES.items():
        if words in what:
            return remedy
    return _REMEDIES["Invalid value"]
