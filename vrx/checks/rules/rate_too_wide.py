"""A rate does not fit into the column that the receiver keeps for it.

Why it matters: what does not fit is cut off: 102500 in a column of five digits is read as 10250, a
tenth.

How to put it right: have the rates written in a larger unit, such as thousands of seeds, or
rounded. Where the receiver holds more, correct rate_width and rate_decimals of [receiver].

Source: widths of number fields, J-7855.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from vrx.checks.records import area_of, having_ground, named, place_of
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    receiver, rates = on.the_plan.receiver, on.the_rates
    width, most = receiver.rate_width, receiver.rate_decimals
    there = np.flatnonzero(np.isfinite(rates.numbers.values) & having_ground(on)).tolist()
    if (width is None and most is None) or not there:
        return
    decimals = rates.decimals if most is None else min(most, rates.decimals)
    texts = {at: f"{rates.numbers.values[at]:.{decimals}f}" for at in there}
    if width is not None:
        wide = [at for at in there if len(texts[at]) > width]
        if wide:
            widest = max((texts[at] for at in wide), key=len)
            message = f"{widest} needs a width of {len(widest)}, and the receiver's column has a width of {width}"
            yield _seen(f"{message}: {named(on, wide)}.", wide, on)
            return
    if most is not None and rates.decimals > most:
        cut = [at for at in there if abs(float(texts[at]) - rates.numbers.values[at]) > 10.0**-most * 1e-6]
        if not cut:
            return  # the only such rates are those of records without ground
        message = f"Rates are written with {rates.decimals} decimals, and the receiver's column holds {most}"
        yield _seen(f"{message} (width {'free' if width is None else width}): {named(on, cut)}.", cut, on)


def _seen(message: str, found: list[int], on: CheckedMap) -> Seen:
    return Seen(
        message=message,
        remedy="Have the rates written in a larger unit or rounded; or correct rate_width and rate_decimals of "
        "[receiver] if it holds more.",
        area_m2=area_of(on, found),
        where=place_of(on, found),
        indices=tuple(found),
    )


RULE = Rule(id="rate-too-wide", looks_at="rates", needs=("layer", "rates", "plan"), look=look)
