"""The file does not say its map coordinates; they were said for this check alone.

Why it matters: the display is not told. It refuses the map, or puts it in another place.

How to put it right: put the .prj that belongs to it beside the .shp, copy the map again from its bundle, or
take the one that ``vrx check --fix OUT`` writes.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    if on.crs_said:
        bundle = f" from the bundle {on.built_as.bundle}" if on.built_as is not None else ""
        yield Seen(
            message=f"{on.source.name} does not say its map coordinates (CRS): it is read in {on.crs_said}, as was "
            "said, and the display can't know that.",
            remedy=f"Copy it again{bundle} with its .prj, or load the one that vrx check --fix OUT writes.",
        )


RULE = Rule(id="crs-said", looks_at="file", needs=("layer",), look=look)
