"""Beside the column of the rates another one may hold rates.

Why it matters: the display asks which column holds the rates, and the next one in its list looks alike.

How to put it right: choose the column that the check names; what stands in the others is for another
product, or of an older map.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.units import rate_number_text
from vrx.words import some


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    chosen = on.the_rates.column
    others = [one for one in on.candidates if one.says_rate and one.name != chosen and one.count]
    if others:
        listed = some(
            f"{one.name} ({rate_number_text(one.lowest)} to {rate_number_text(one.highest)})" for one in others
        )
        yield Seen(
            message=f"{listed} may hold rates too: choose {chosen} on the display.",
            remedy="Where it asks for the column of the rates, do not take the first one that looks right.",
        )


RULE = Rule(id="other-rate-columns", looks_at="rates", needs=("layer", "rates"), look=look)
