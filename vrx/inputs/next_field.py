"""A plan for the next field, copied from another one: its text with what is of one field alone taken out.

Comments stay where what they stand beside or above stays. The new text is read again, and must say what was meant.
"""

from __future__ import annotations

import json
import os
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any, Final

from vrx.errors import PlanError
from vrx.inputs.plan_text import read_toml
from vrx.inputs.toml_lines import Statement, lines_of, statements_of
from vrx.model.keys import KeyPath
from vrx.model.plan_schema import inside, toml_text
from vrx.words import some

_LEFT_OUT: Final = {
    "keep_out": ("keep-out", "where"),
    "overlay": ("overlay", "where"),
    "accept": ("acceptance", "finding"),
}
# What in [field] is of that field's ground; and an approval is of one plan.
_GROUND: Final = ("name", "boundary", "crs", "layer", "stated_area", "stated_basis", "part")
_SHARED: Final = ("products", "machines")
_TO_FILL: Final = '""'
_COLUMN: Final = 39
_TO_LOOK_AT: Final = ("date", "revision", "notes")


@dataclass(frozen=True, slots=True, kw_only=True)
class NextField:
    """A copied plan.

    Attributes
    ----------
    text : str
    fill_in : tuple of str
        Keys that are empty and have to be given, with their lines.
    left_out : tuple of str
        What the other plan has and this one does not.
    look_at : tuple of str
        What was copied and may be meant for the other field.
    """

    text: str
    fill_in: tuple[str, ...]
    left_out: tuple[str, ...]
    look_at: tuple[str, ...]


def next_field(plan: Path, folder: Path, boundary: Path) -> NextField:
    """Copy a plan for another field.

    Parameters
    ----------
    plan : Path
        The plan to copy; the files that it names need not be there.
    folder : Path
        Where the new plan is to lie: paths are written as seen from there.
    boundary : Path
        The new field's boundary.

    Raises
    ------
    PlanError
        The plan can't be read, has no [field] or [zones], or is written in a way that can't be copied.
    """
    file = read_toml(plan)
    text = file.text.replace("\r\n", "\n")
    values = file.values
    for key in ("field", "zones"):
        if not isinstance(values.get(key), dict):
            raise PlanError(f"The plan has no [{key}] table.", remedy="Copy a whole plan.", where=file.name)
    work = _Copy(text, values, plan.parent, folder, boundary)
    made = work.made()
    if not _says(made, work.expected()):
        raise PlanError(
            "The plan is written in a way that can't be copied.",
            remedy="Write [field], [zones] and [[keep_out]] as tables of their own, a key a line.",
            where=file.name,
        )
    return NextField(
        text=made,
        fill_in=tuple(_to_fill_in(made, work.layers)),
        left_out=tuple(_left_out(values)),
        look_at=tuple(_to_look_at(values)),
    )


def _says(text: str, expected: Mapping[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == expected
    except tomllib.TOMLDecodeError:
        return False


class _Copy:
    """The work on one text."""

    def __init__(self, text: str, values: Mapping[str, Any], home: Path, folder: Path, boundary: Path) -> None:
        self.text, self.values, self.home, self.folder = text, values, home, folder
        self.boundary = _seen_from(folder, boundary)
        zones = values["zones"]
        named = zones and all(isinstance(one, dict) for one in zones.values())
        self.layers: tuple[KeyPath, ...] = tuple(("zones", name) for name in zones) if named else (("zones",),)

    def expected(self) -> dict[str, Any]:
        """Return what the new text has to say."""
        kept = {key: value for key, value in self.values.items() if key not in (*_LEFT_OUT, "approved_by")}
        field = {key: value for key, value in self.values["field"].items() if key not in _GROUND}
        kept["field"] = field | {"name": "", "boundary": self.boundary}
        empty = {"from": ""}
        kept["zones"] = empty if self.layers == (("zones",),) else {str(one[1]): dict(empty) for one in self.layers}
        for path, name in self._paths().items():
            kept = _with(kept, path, name)
        return kept

    def made(self) -> str:
        """Return the new text."""
        statements, spans = statements_of(self.text)
        edits = [(spans[path], json.dumps(name, ensure_ascii=False)) for path, name in self._paths().items()]
        edits += self._going(statements)
        edits += self._field(statements)
        text = self.text
        for (start, end), new in sorted(edits, reverse=True):
            text = text[:start] + new + text[end:]
        tidy = re.sub(r"\n{3,}", "\n\n", text).strip("\n") + "\n"
        # Blank lines may stand in a text of several lines too.
        return tidy if _says(tidy, self.expected()) else text

    def _paths(self) -> dict[KeyPath, str]:
        """Return the names of files that stay, as seen from the new folder."""
        rates = self.values.get("rate")
        tables = [("rate", at, "table") for at in range(len(rates))] if isinstance(rates, list) else []
        paths: list[KeyPath] = [*((key,) for key in _SHARED), ("field", "backdrop"), *tables]
        found = {path: inside(self.values, path) for path in paths}
        return {path: _seen_from(self.folder, self.home / name) for path, name in found.items() if _is_file(name)}

    def _going(self, statements: list[Statement]) -> Iterator[tuple[tuple[int, int], str]]:
        """Give what goes, tables whole with the comments above them; the first of the zones gives way to empty ones."""
        headers = [one for one in statements if one.is_header]
        before = headers[0].start if headers else len(self.text)
        gone = (*_LEFT_OUT, "zones")
        places = [
            (str(one.path[0]), self._with_comments(one.start), self._end_of_line(one.end))
            for one in statements
            if one.start < before and one.path[0] in (*gone, "approved_by")
        ]
        ends = [*(self._with_comments(one.start) for one in headers), len(self.text)][1:]
        places += [
            (str(one.path[0]), self._with_comments(one.start), end)
            for one, end in zip(headers, ends, strict=True)
            if one.path[0] in gone
        ]
        first = next((start for top, start, _ in places if top == "zones"), -1)
        for top, start, end in places:
            new = ""
            if top == "zones" and start == first:
                new = self._empty_zones(dotted=start < before)
            yield (start, end), new

    def _field(self, statements: list[Statement]) -> Iterator[tuple[tuple[int, int], str]]:
        """Give the changes in [field]: its new name and boundary, and what was of the old one's ground gone."""
        for one in statements:
            if one.is_header or one.path[0] != "field":
                continue
            if one.path == ("field",):  # an inline table
                start = self.text.index("=", one.start) + 1
                yield (start, one.end), f" {toml_text(self.expected()['field'])}"
                return
            key, whole = one.path[1], (self._line(one.start), self._end_of_line(one.end))
            head = self.text[one.start : self.text.index("=", one.start)].rstrip()
            if key == "name":
                yield whole, _commented(f"{head} = {_TO_FILL}", "fill in") + "\n"
            elif key == "boundary":
                yield whole, f"{head} = {json.dumps(self.boundary, ensure_ascii=False)}\n"
            elif key in _GROUND:
                yield whole, ""

    def _empty_zones(self, *, dotted: bool) -> str:
        tables = []
        for path in self.layers:
            head = ".".join(map(_key, path))
            key = f"{head}.from" if dotted else "from"
            lines = [] if dotted else [f"[{head}]"]
            lines.append(_commented(f"{key} = {_TO_FILL}", "fill in: the zone layer of this field"))
            said = inside(self.values, (*path, "name"))
            if said and not dotted:
                lines.append(_commented(f"#name = {toml_text(said)}", "as in the plan that this one was copied from"))
            tables.append("\n".join(lines) + "\n")
        return "\n".join(tables) + ("" if dotted else "\n")

    def _line(self, at: int) -> int:
        return self.text.rfind("\n", 0, at) + 1

    def _end_of_line(self, at: int) -> int:
        end = self.text.find("\n", at)
        return len(self.text) if end < 0 else end + 1

    def _with_comments(self, at: int) -> int:
        """Return where the comments begin that stand right above a line."""
        start = self._line(at)
        while start and self.text[self._line(start - 1) : start].lstrip().startswith("#"):
            start = self._line(start - 1)
        return start


def _commented(text: str, comment: str) -> str:
    return f"{text:<{_COLUMN}}# {comment}"


def _key(step: str | int) -> str:
    word = str(step)
    return word if re.fullmatch(r"[A-Za-z0-9_-]+", word) else json.dumps(word, ensure_ascii=False)


def _is_file(name: object) -> bool:
    return isinstance(name, str) and bool(name.strip())


def _seen_from(folder: Path, path: Path) -> str:
    """Return a path as a plan in a folder names it; whole where they are on different disks."""
    try:
        found = os.path.relpath(os.path.abspath(path), os.path.abspath(folder))  # noqa: PTH100 - links stay as named
    except ValueError:
        found = os.path.abspath(path)  # noqa: PTH100
    return PurePath(found).as_posix()


def _with(values: dict[str, Any], path: KeyPath, new: str) -> dict[str, Any]:
    """Return values with one of them changed."""
    copied = dict(values)
    here: Any = copied
    for step in path[:-1]:
        here[step] = list(here[step]) if isinstance(here[step], list) else dict(here[step])
        here = here[step]
    here[path[-1]] = new
    return copied


def _to_fill_in(text: str, layers: tuple[KeyPath, ...]) -> Iterator[str]:
    empty = [("field", "name"), *((*path, "from") for path in layers)]
    lines = lines_of(text, empty)
    for path in empty:
        yield f"{'.'.join(map(_key, path))}, line {lines[path]}"


def _left_out(values: Mapping[str, Any]) -> Iterator[str]:
    field = values["field"]
    if field.get("stated_area"):
        yield f"the stated area, {field['stated_area']}"
    if field.get("part"):
        yield f"the part that is treated, {field['part']}"
    for key, (word, name) in _LEFT_OUT.items():
        found = values.get(key)
        if isinstance(found, list) and found:
            tables = [one for one in found if isinstance(one, dict)]
            names = [str(one.get("reason") or one.get("why") or one.get(name)) for one in tables]
            yield f"{len(found)} {word}{'s' * (len(found) != 1)} ({some(names)})"
    if values.get("approved_by"):
        yield f"the approval by {values['approved_by']}"


def _to_look_at(values: Mapping[str, Any]) -> Iterator[str]:
    for key in _TO_LOOK_AT:
        if key in values:
            yield key
    if values["field"].get("backdrop"):
        yield "field.backdrop"
    rates = values.get("rate")
    for at, rate in enumerate(rates if isinstance(rates, list) else ()):
        if not isinstance(rate, dict):
            continue
        said = f"rate[{rate.get('product', at)}]"
        if isinstance(rate.get("table"), dict):
            yield f"{said}, which names the zones {some(rate['table'])}"
        elif isinstance(rate.get("table"), str):
            yield f"{said}, which names zones in {PurePath(rate['table']).name}"
        elif rate.get("of") or rate.get("column") or rate.get("formula"):
            by = rate.get("of") or rate.get("column") or rate.get("formula")
            yield f"{said}, which goes by {by} of the zone layer"
