"""Two shapes of the map cover the same ground.

Why it matters: a display takes one of the two rates, and which one differs from display to
display; acres and amounts of the map are counted twice there.

How to put it right: have the map drawn again so that its shapes meet and do not cross, or give
both the same rate. ``vrx check --fix`` divides the ground where the rates are the same. Where they
differ, whoever made the map has to say which one holds.

Source: common practice, no source; the share of 0.1 % is the one that a build lets pass.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import ground_m2, largest_first, size_text, together
from vrx.checks.twins import differ, twins
from vrx.model.checked_map import CheckedMap, Overlap
from vrx.units import rate_number_text

SMALL_SHARE: Final = 0.001


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    group_of = {at: number for number, group in enumerate(twins(on)) for at in group}
    told_apart = (one for one in on.the_shapes.overlaps if group_of.get(one.first, -1) != group_of.get(one.second, -2))
    pairs = sorted(told_apart, key=lambda one: -one.area_m2)
    differing = [one for one in pairs if _differ(one, on)]
    same = [one for one in pairs if not _differ(one, on)]
    small = sum(one.area_m2 for one in differing) <= SMALL_SHARE * ground_m2(on)
    told, rest = largest_first(differing)
    for some in [[one] for one in told] + ([list(rest)] if rest else []):
        yield Seen(
            severity="caution" if small else "stop",
            message=_differing_text(some, on),
            remedy="Ask whoever made the map which rate holds there, and have its shapes drawn so that they meet.",
            area_m2=sum(one.area_m2 for one in some),
            where=together(one.shape for one in some),
            indices=tuple(dict.fromkeys(at for one in some for at in (one.first, one.second))),
        )
    if same:
        size = sum(one.area_m2 for one in same)
        yield Seen(
            severity="note",
            message=(
                f"{len(same)} pair{'s'[: len(same) > 1]} of shapes with one rate overlap, on {size_text(size, on)}: "
                "that ground counts twice in the map's own acres."
            ),
            remedy="vrx check --fix divides it.",
            area_m2=size,
            where=together(one.shape for one in same),
            indices=tuple(dict.fromkeys(at for one in same for at in (one.first, one.second))),
        )


def _differ(one: Overlap, on: CheckedMap) -> bool:
    """Tell whether a display would have to choose; what holds no rate differs from what does."""
    return differ((one.first, one.second), on)


def _differing_text(some: list[Overlap], on: CheckedMap) -> str:
    size = size_text(sum(one.area_m2 for one in some), on)
    if len(some) > 1:
        return f"{len(some)} more pairs of shapes overlap, on {size} together."
    one = some[0]
    rates = "" if on.rates is None else f" ({_rate(one.first, on)}) and"
    second = "" if on.rates is None else f" ({_rate(one.second, on)})"
    return f"{on.called(one.first)}{rates or ' and'} {on.called(one.second)}{second} overlap on {size}."


def _rate(at: int, on: CheckedMap) -> str:
    if on.rates is None or np.isnan(on.rates.numbers.values[at]):
        return "no rate"
    return f"{rate_number_text(float(on.rates.numbers.values[at]))} {on.rates.unit_name}".rstrip()


RULE = Rule(id="overlap", looks_at="shapes", needs=("shapes",), look=look)
