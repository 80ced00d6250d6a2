"""A shape of the map is broken: its outline crosses itself, say, or a hole lies outside.

Why it matters: what is inside such an outline is read in several ways. Here it was mended and
measured; the file is as it was, and a display may see other ground, or refuse the shape.

How to put it right: look at the place in the message, and have the shape drawn again where the
mended one is not what was meant. ``vrx check --fix`` writes the mended ones.

Source: OGC06-103, validity of polygons; common practice, no source, for the share of 0.1 %.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import ground_m2, largest_first, size_text, together
from vrx.model.checked_map import CheckedMap, Mended

SMALL_SHARE: Final = 0.001
# Other rules tell of records that hold nothing, or no polygon.
_NO_POLYGON: Final = frozenset({"no shape", "not a polygon"})


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    mended = [one for one in on.the_shapes.mended if one.reason not in _NO_POLYGON]
    mended.sort(key=lambda one: -_moved_m2([one]))
    small = _moved_m2(mended) <= SMALL_SHARE * ground_m2(on)
    told, rest = largest_first(mended)
    for some in [[one] for one in told] + ([list(rest)] if rest else []):
        shapes = [shape for one in some if (shape := on.the_shapes.shapes[one.index]) is not None]
        yield Seen(
            severity="note" if small else "caution",
            message=_text(some, on),
            remedy="Look at the shape, and have it drawn again where the mended one is not what was meant; vrx check "
            "--fix OUT writes the mended one.",
            area_m2=_moved_m2(some),
            where=together(shapes) if shapes else None,
            indices=tuple(one.index for one in some),
        )


def _moved_m2(some: Sequence[Mended]) -> float:
    return sum(abs(one.area_after_m2 - one.area_before_m2) for one in some)


def _text(some: Sequence[Mended], on: CheckedMap) -> str:
    if len(some) > 1:
        moved = size_text(_moved_m2(some), on)
        return f"{len(some)} more shapes are broken; mended, their areas change by {moved} in all."
    one = some[0]
    if one.lost:
        return f"{on.called(one.index)} {one.reason}, and covers no ground."
    before, after = (size_text(area, on) for area in (one.area_before_m2, one.area_after_m2))
    return f"{on.called(one.index)} {one.reason}; mended, its area goes from {before} to {after}."


RULE = Rule(id="invalid-shape", looks_at="shapes", needs=("layer", "shapes"), look=look)
