"""Ground amid the shapes of the map has no shape, and so no rate.

Why it matters: the display gives its default rate there, or shuts off, as it is set. A field that
looks fully mapped may have a strip that gets nothing, or too much.

How to put it right: have the gap drawn as a zone with its rate, 0 where nothing is to go on. Where
no boundary is known, a hole may be a keep-out: name a plan, or the boundary, and it is told apart.

Source: common practice, no source, for the share of 60 % of the outline by which a gap is told
from ground along the boundary.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from vrx.checks.bare import Bare, gaps
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import largest_first, place_text, size_text, together
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    told, rest = largest_first(gaps(on))
    for some in [[one] for one in told] + ([list(rest)] if rest else []):
        yield Seen(
            message=f"{_what(some, on)} no shape of the map covers {'it' if len(some) == 1 else 'them'}, and "
            f"{_gets(on)} there.",
            remedy="Ask whoever made the map what goes there, and have it drawn: with rate 0 where nothing does.",
            area_m2=sum(one.area_m2 for one in some),
            where=together(one.shape for one in some),
        )


def _what(some: Sequence[Bare], on: CheckedMap) -> str:
    size = size_text(sum(one.area_m2 for one in some), on)
    if len(some) > 1:
        kind = "gaps" if on.ground is not None else "holes, gaps or keep-outs"
        return f"Ground in {len(some)} more {kind}, {size} together:"
    kind = "A gap" if on.ground is not None else "A hole in the map, a gap or a keep-out,"
    return f"{kind} of {size} at {place_text(some[0].shape, on)}:"


def _gets(on: CheckedMap) -> str:
    if on.product is None:
        return "the machine gives whatever the display's default is"
    rate = on.product.rate_text(on.product.number_where("default"))
    return f"the machine gives the default rate, {rate} as the product has it,"


RULE = Rule(id="gap", looks_at="shapes", needs=("layer", "shapes"), look=look)
