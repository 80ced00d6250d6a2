"""The map holds heights (Z) or measures (M) with its points, and they were left out here.

Why it matters: a rate does not depend on them, but some displays refuse a map that has them.

How to put it right: where the display refuses the map, have it saved without Z and M; what
``vrx check --fix`` writes has none.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.reader_words import noticed
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    yield from noticed(on, "has-z")


RULE = Rule(id="has-z", looks_at="file", look=look)
