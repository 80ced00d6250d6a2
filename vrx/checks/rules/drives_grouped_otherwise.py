"""The machine runs other drives at one rate than the plan says.

Why it matters: drives of one group get one rate, whatever the map says on either side: a strip
gets its neighbour's.

How to put it right: set the groups in the cab as the plan has them; or correct group of the drives
and build again.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap, Grouping
from vrx.words import nearest

if TYPE_CHECKING:
    from vrx.model.machine import Machine


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    told, machine = on.grouping, on.the_plan.machine
    built = None if on.built_as is None else on.built_as.grouping
    if told is None and built is None:
        yield Unseen('Which drives the machine runs at one rate is not known: say it with --groups "left+right, cart".')
        return
    if told is not None:
        yield from _compared(told, "on the machine", machine)
    if built is not None and on.built_as is not None:
        yield from _compared(built, f"when {on.built_as.bundle} was built", machine)


def _compared(there: Grouping, when: str, machine: Machine) -> Iterator[Seen]:
    here, known = grouping_of(machine), [drive.name for drive in machine.drive]
    unknown = sorted({name for group in there for name in group} - set(known))
    if unknown:
        yield Seen(
            message=f"The plan has no drive {', '.join(unknown)}: its drives are {', '.join(known)}.",
            remedy=f"{nearest(unknown[0], known)}Name the drives as the plan does.",
        )
        return
    # What is not named runs by itself.
    named = {name for group in there for name in group}
    whole = there | {frozenset({name}) for name in known if name not in named}
    if whole != here:
        yield Seen(
            message=f"Drives run together {when}: {_told(whole, known)}. The plan has: {_told(here, known)}.",
            remedy="Set the groups in the cab as the plan has them, or correct group of the drives and build again.",
        )


def grouping_of(machine: Machine) -> Grouping:
    """Return which drives of a machine run at one rate; a drive without a group is its own."""
    groups: dict[str, set[str]] = {}
    for drive in machine.drive:
        groups.setdefault(f"group {drive.group}" if drive.group else f"drive {drive.name}", set()).add(drive.name)
    return frozenset(frozenset(names) for names in groups.values())


def _told(grouping: Grouping, order: list[str]) -> str:
    groups: Iterable[list[str]] = sorted(
        (sorted(one, key=order.index) for one in grouping), key=lambda one: order.index(one[0])
    )
    return ", ".join("+".join(one) for one in groups)


RULE = Rule(id="drives-grouped-otherwise", looks_at="belonging", needs=("layer", "plan", "machine"), look=look)
