"""It is not clear which column of the map holds the rates.

Why it matters: a display takes the column that it is shown, and another one may hold another
product's rates, or no rates at all.

How to put it right: name the column with --column. Where the map has a column for each product,
name the product with --product too, and check the map once for each of them.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import Candidate, CheckedMap
from vrx.units import rate_number_text
from vrx.words import some, visible


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    if on.rates is not None:
        return
    found = on.candidates
    if not found:
        columns = some(map(visible, on.the_layer.columns))
        yield Seen(
            message=f"No column of the map holds rates: its columns are {columns}."
            if columns
            else "The map has no columns, and so no rates.",
            remedy="Take the file that holds the rates; where one of these columns does, name it with --column NAME."
            if columns
            else "Take the file that holds the rates.",
        )
        return
    told = some(_told(one, on) for one in found)
    yield Seen(
        message=(
            f"{len(found)} columns may hold the rates, and nothing says which one: {told}."
            if len(found) > 1
            else f"Nothing says that column {_told(found[0], on)} holds the rates."
        ),
        remedy=_how_to_say(on, found),
    )


def _how_to_say(on: CheckedMap, found: Sequence[Candidate]) -> str:
    built = {} if on.built_as is None else on.built_as.products
    if len(found) > 1 and all(built.get(one.name) for one in found):
        return f'Check it once for each product: with --product "{visible(built[found[0].name])}", then with the next.'
    if len(found) > 1:
        return "Say which one with --column NAME; where each column is for another product, say --product NAME too."
    return "Say it with --column NAME."


def _told(one: Candidate, on: CheckedMap) -> str:
    product = "" if on.built_as is None else on.built_as.products.get(one.name, "")
    whose = f", for {visible(product)}" if product else ""
    if np.isnan(one.lowest):
        return f"{visible(one.name)} (no numbers{whose})"
    low, high = rate_number_text(one.lowest), rate_number_text(one.highest)
    return f"{visible(one.name)} ({low if low == high else f'{low} to {high}'}{whose})"


RULE = Rule(id="rate-column-unclear", looks_at="rates", needs=("layer",), look=look)
