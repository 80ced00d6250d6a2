"""A drive of the machine carries no product of this pass.

Why it matters: it runs empty or at the last rate that it was set to, and its strip gets nothing or
something unmeant.

How to put it right: shut the drive off for this pass, or add a [[rate]] for what it carries.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    rated = {one.product for one in on.the_plan.rate}
    for drive in on.the_plan.machine.drive:
        if rated.isdisjoint(drive.products):
            yield Seen(
                message=(
                    f"Drive {drive.name} carries {' or '.join(drive.products)}, and the plan has no rate for it in "
                    "this pass."
                ),
                remedy="Shut the drive off for this pass, or add a [[rate]] for what it carries.",
                product=drive.products[0],
            )


RULE = Rule(id="drive-without-product", looks_at="belonging", needs=("layer", "plan", "machine"), look=look)
