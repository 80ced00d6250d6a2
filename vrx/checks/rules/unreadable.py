"""The map could not be read.

Why it matters: a display may refuse the file, or load what it can make of it; what that is, nobody
knows.

How to put it right: do what the finding says; as a rule that is to have the map saved or sent
again, whole, in a common format.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.reader_words import as_told
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.errors import ImpossiblePlaceError, NoCrsError, UnknownCrsError
from vrx.model.checked_map import CheckedMap

_TOLD_BY_OTHERS = (NoCrsError, UnknownCrsError, ImpossiblePlaceError)


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    yield from (as_told(one, on) for one in on.failures if not isinstance(one, _TOLD_BY_OTHERS))


RULE = Rule(id="unreadable", looks_at="file", needs=(), look=look)
