"""Map, bundle and plan are not of one state: one of them is newer.

Why it matters: the map may want what the plan no longer does, or the other way round; and the card
that lies with it tells of another map.

How to put it right: build the plan again, and take map and card from the new bundle. A map that no
build wrote has no business among the machine files: move it away.

Source: common practice, no source; files are compared by SHA-256, not by their dates.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.rule import NEEDS, Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.words import some, visible


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    later, built = on.superseded_by, on.built_as
    if later is not None:
        yield Seen(
            message=f"{on.source.stem} is an older build: that of {later.bundle} took its place.",
            remedy=f"Take {some(later.maps) or 'map'} and the card from {later.bundle}, and delete the older map.",
        )
    if built is None:
        if later is None:
            yield Unseen(NEEDS["bundle"](on))
        return
    if built.unlisted and later is None:
        yield Seen(
            message=f"{on.source.name} lies among the machine files of {built.bundle}, and no build wrote it.",
            remedy="Find out where it comes from; the card of that bundle says nothing about it.",
        )
    other = built.field_name if on.plan is not None and built.field_name != on.plan.field.name else ""
    if built.inputs_changed and later is None and on.plan is not None and other:
        # Files of two fields bear the same names in two folders: nobody changed them.
        yield Seen(
            message=f"{built.bundle} was built for {visible(other)}, and {on.plan_name} is for "
            f"{visible(on.plan.field.name)}.",
            remedy=f"Take map and card from the bundle of {on.plan_name}, or name the plan of this map with --plan.",
        )
    elif built.inputs_changed and later is None:
        were = "was" if len(built.inputs_changed) == 1 else "were"
        yield Seen(
            message=f"{some(built.inputs_changed)} {were} changed after {built.bundle} was built.",
            remedy="Build the plan again, and take map and card from the new bundle.",
        )


RULE = Rule(id="file-newer-than-bundle", looks_at="file", needs=(), look=look)
