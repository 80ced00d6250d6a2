"""Cells of the rate column that hold no rate, as rules find and tell them."""

from __future__ import annotations

from typing import Final

from vrx.checks.records import MOST_RECORDS, having_ground
from vrx.model.checked_map import CheckedMap
from vrx.model.layer import BadCell
from vrx.words import some

_LONGEST: Final = 24


def bad_cells(on: CheckedMap, kind: str) -> list[BadCell]:
    """Return the cells of a kind that belong to ground, the largest ground first."""
    there = having_ground(on)
    found = [one for one in on.the_rates.numbers.bad if one.kind == kind and there[one.index]]
    if on.shapes is None:
        return found
    size = on.shapes.area_m2
    return sorted(found, key=lambda one: -round(float(size[one.index])))


def cells_text(on: CheckedMap, cells: list[BadCell]) -> str:
    """Return cells with their records: ``'12,5' in D (record 4), '1.#IND00' in B (record 2)``."""
    return some((f"{_short(one.text)!r} in {on.called(one.index)}" for one in cells), MOST_RECORDS)


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}..."
