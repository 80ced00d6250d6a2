"""The map bears the name of one that was built, and its content is another.

Why it matters: the card, the amounts and the check of the build are those of the map as it was.
Nobody can say what was changed, or by whom; a copy may also have broken on its way.

How to put it right: compare rates and areas with the card, and copy the map again from the bundle.
Where the change was meant, build the plan again, so that card and map agree.

Source: common practice, no source; files are compared by SHA-256.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.words import some


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    built = on.the_bundle
    if not built.changed:
        return
    differ = "differs" if len(built.changed) == 1 else "differ"
    yield Seen(
        message=f"{some(built.changed)} {differ} from the map {built.map_name} that {built.bundle} lists.",
        remedy="Compare its rates and areas with the card, and copy the map again from the bundle.",
    )


RULE = Rule(id="changed-since-build", looks_at="file", needs=("bundle",), look=look)
