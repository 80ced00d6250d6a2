"""A name of the map is one that displays have trouble with.

Why it matters: a file name that is too long or holds odd characters may be cut, garbled or not
shown in the list at all. Columns whose names are alike when cut to the 10 characters of a shapefile
can't be told apart on the display.

How to put it right: rename the file with plain letters, digits, - and _, all its parts alike. Have
columns named apart within their first 10 characters.

Source: J-7855 and the header of its .dbf for the 10 characters; the rest is common practice.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.model.loadable import COLUMN_LENGTH, plain_stem, reserved_stem
from vrx.words import some, visible

_ODD = re.compile(r"[^A-Za-z0-9_-]")
_RENAME = "Rename it and all its parts, with plain letters, digits, - and _; keep the code at the end of a built map."


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    yield from _file_name(on)
    cut: dict[str, list[str]] = {}
    for one in on.candidates:
        cut.setdefault(one.name[:COLUMN_LENGTH].casefold(), []).append(one.name)
    alike = [names for names in cut.values() if len(names) > 1]
    for names in alike:
        yield Seen(
            severity="note",
            message=(
                f"Columns {some(map(visible, names))} are alike when cut to {COLUMN_LENGTH} characters, as in a "
                f"shapefile: {visible(names[0][:COLUMN_LENGTH])}."
            ),
            remedy=(
                f"Have them named apart within {COLUMN_LENGTH} characters before the map becomes a shapefile, and "
                "look on the display which one it took."
            ),
        )


def _file_name(on: CheckedMap) -> Iterator[Seen]:
    stem = on.source.stem
    most = None if on.plan is None else on.plan.receiver.name_length
    if most is not None and len(stem) > most:
        yield Seen(
            severity="stop",
            message=(
                f"The file name {visible(stem)} has {len(stem)} characters, and the receiver of {on.plan_name} loads "
                f"{most}."
            ),
            remedy="Give it and all its parts a shorter name, or correct name_length of [receiver].",
        )
    if reserved_stem(stem):
        yield Seen(
            severity="caution",
            message=f"The file name {visible(stem)} is one that Windows keeps for a device.",
            remedy=_RENAME,
        )
    elif not plain_stem(stem):
        odd = "".join(dict.fromkeys(_ODD.findall(stem)))
        what = f"holds {some(map(_told, odd))}" if odd else "begins with -"
        yield Seen(
            severity="caution",
            message=f"The file name {visible(stem)} {what}: displays are sure to show plain letters, digits, - and _.",
            remedy=_RENAME,
        )


def _told(letter: str) -> str:
    return {" ": "a space", ".": "a dot"}.get(letter, visible(letter))


RULE = Rule(id="name-not-loadable", looks_at="file", look=look)
