"""The map does not say truly how its letters are stored, so they had to be guessed.

Why it matters: names of zones or products with accents may come out garbled on the display.
Numbers are not touched.

How to put it right: look at the names with special letters. Have the map saved with a .cpg file
that says UTF-8, or with names of plain letters.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.reader_words import noticed
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    yield from noticed(on, "encoding")


RULE = Rule(id="encoding", looks_at="file", look=look)
