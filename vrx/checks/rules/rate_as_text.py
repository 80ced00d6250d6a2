"""The column of the rates is one of text, though its cells read as numbers.

Why it matters: many displays offer only columns of numbers for the rates, and do not find this one; others
read text in their own way.

How to put it right: have the column saved as numbers, or take the map that ``vrx check --fix OUT`` writes.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    if on.column_kind == "text" and np.isfinite(on.the_rates.numbers.values).any():
        yield Seen(
            message=f"The column {on.the_rates.column} is one of text: its cells read as numbers here, and a display "
            "may not offer it for the rates.",
            remedy="Have it saved as numbers, or load the one that vrx check --fix OUT writes.",
        )


RULE = Rule(id="rate-as-text", looks_at="rates", needs=("layer", "rates"), look=look)
