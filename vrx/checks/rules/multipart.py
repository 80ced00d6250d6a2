"""Records of the map consist of several parts that lie apart.

Why it matters: that is sound, but some displays load the first part only, and the others get the
default rate.

How to put it right: look on the display whether all parts are there. ``vrx check --fix`` writes
each part as a record of its own.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from vrx.checks.parts import parts_of
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.words import some

_MOST_TOLD = 12


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    _, owner = parts_of(on.the_layer)
    counts = np.bincount(owner, minlength=1)
    found = np.flatnonzero(counts > 1).tolist()
    if not found:
        return
    have = "record has" if len(found) == 1 else "records have"
    listed = some((f"{on.called(at)} {counts[at]:,}" for at in found), _MOST_TOLD)
    yield Seen(
        message=f"{len(found):,} {have} several parts: {listed}. Some displays load the first part only.",
        remedy="Look on the display whether all parts are there; vrx check --fix writes each as a record of its own.",
        indices=tuple(found),
    )


RULE = Rule(id="multipart", looks_at="file", look=look)
