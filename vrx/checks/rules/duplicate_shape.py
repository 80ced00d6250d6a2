"""Two records of the map have the same polygon.

Why it matters: where their rates differ a display takes one of them, and nobody knows which. Where
they are the same the ground counts twice in the map's own acres and amounts.

How to put it right: ask whoever made the map which record holds, and have the other one deleted.
``vrx check --fix`` keeps one where the rates are the same.

Source: common practice, no source; polygons count as the same to the centimetre.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from vrx.checks.records import named, rate_text
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import largest_first, size_text, together
from vrx.checks.twins import differ, twins
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    area = on.the_shapes.area_m2
    groups = sorted(twins(on), key=lambda group: (-round(float(area[group[0]])), group[0]))
    differing = [group for group in groups if differ(group, on)]
    same = [group for group in groups if not differ(group, on)]
    told, rest = largest_first(differing)
    for some in [[group] for group in told] + ([list(rest)] if rest else []):
        size = size_text(_ground_m2(some, on), on)
        message = (
            f"{_with_rates(some[0], on)} have the same polygon, of {size}."
            if len(some) == 1
            else f"{len(some)} more polygons are there more than once with different rates, on {size}."
        )
        yield _seen(some, on, message=message, stop=True)
    if same:
        records = [at for group in same for at in group]
        once = "polygon is" if len(same) == 1 else "polygons are"
        size = size_text(_ground_m2(same, on), on)
        yield _seen(
            same,
            on,
            message=f"{len(same)} {once} there more than once with one rate, on {size}: {named(on, records)}.",
            stop=False,
        )


def _seen(groups: Sequence[Sequence[int]], on: CheckedMap, *, message: str, stop: bool) -> Seen:
    shapes = [on.the_shapes.shapes[group[0]] for group in groups]
    return Seen(
        severity="stop" if stop else "note",
        message=message,
        remedy=(
            "Ask whoever made the map which rate holds, and have the other record deleted."
            if stop
            else "vrx check --fix keeps one of them; until then that ground counts twice in the map's own acres."
        ),
        area_m2=_ground_m2(groups, on),
        where=together(shapes),
        indices=tuple(at for group in groups for at in group),
    )


def _ground_m2(groups: Sequence[Sequence[int]], on: CheckedMap) -> float:
    return float(on.the_shapes.area_m2[[group[0] for group in groups]].sum())


def _with_rates(group: Sequence[int], on: CheckedMap) -> str:
    if on.rates is None:
        return named(on, group)
    rates = on.rates.rates
    told = [f"{on.called(at)} ({'no rate' if np.isnan(rates[at]) else rate_text(on, at)})" for at in group[:12]]
    more = f" and {len(group) - len(told)} more" if len(group) > len(told) else ""
    return f"{' and '.join(told)}{more}"


RULE = Rule(id="duplicate-shape", looks_at="shapes", needs=("layer", "shapes"), look=look)
