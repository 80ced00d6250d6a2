"""The map has more polygons than the display loads.

Why it matters: a display that meets its limit refuses the map, or loads a part of it without a
word.

How to put it right: have the map made of fewer or larger zones, or split by product or part of the
field. Where the display loads more, say so in the plan: most_features in [receiver].

Source: common practice, no source; the display's manual says its limit.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.model.loadable import MOST_FEATURES


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    count = len(on.the_layer.records)
    most = MOST_FEATURES if on.plan is None else on.plan.receiver.most_features
    if count <= most:
        return
    if on.plan is None:
        yield Seen(
            severity="caution",
            message=f"The map has {count:,} records; a strict display loads {most:,}.",
            remedy="Look into the display's manual; have the map made of fewer zones where it loads no more.",
        )
    else:
        yield Seen(
            severity="stop",
            message=f"The map has {count:,} records, and the receiver of {on.plan_name} loads {most:,}.",
            remedy="Have the map made of fewer zones, or correct most_features of [receiver].",
        )


RULE = Rule(id="too-many-features", looks_at="file", look=look)
