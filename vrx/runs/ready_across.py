"""What no single map can tell: whether the maps of several products agree on the same ground."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations

from vrx.checks.nutrients import over_together
from vrx.checks.places import Place, both_above_zero, none_above_zero
from vrx.checks.telling import on_earth, size_text, together
from vrx.dosing.nutrients import carries
from vrx.errors import UnitError
from vrx.model.check import NotChecked
from vrx.model.checked_map import CheckedMap
from vrx.model.finding import Finding
from vrx.model.plan import Plan
from vrx.units import rate_number_text


def across(plan: Plan, maps: Mapping[str, CheckedMap]) -> Iterator[Finding | NotChecked]:
    """Yield what is wrong between the maps of a plan, and what could not be looked at.

    Parameters
    ----------
    maps : mapping of str to CheckedMap
        By product.
    """
    known = {name: on for name, on in maps.items() if on.shapes is not None and on.rates is not None}
    yield from _one_of(plan, known)
    yield from _caps(plan, known)


def _one_of(plan: Plan, maps: Mapping[str, CheckedMap]) -> Iterator[Finding | NotChecked]:
    """Look whether drives that change between products have exactly one of them above 0 everywhere."""
    for drive in plan.machine.drive:
        if not drive.one_of:
            continue
        if not maps.keys() >= set(drive.one_of):
            why = f"Drive {drive.name} changes between {', '.join(drive.one_of)}, and not each of them has a map."
            yield NotChecked(id="not-one-of", why=why)
            continue
        mine = [maps[name] for name in drive.one_of]
        for first, second in combinations(drive.one_of, 2):
            place = both_above_zero(maps[first], maps[second])
            said = f"{first} and {second} are both above 0"
            yield from _place_finding(place, f"Drive {drive.name} gives one of them at a place, and {said}", mine[0])
        said = f"none of {', '.join(drive.one_of)} is above 0"
        yield from _place_finding(none_above_zero(mine), f"Drive {drive.name} gives one product, and {said}", mine[0])


def _place_finding(place: Place, what: str, on: CheckedMap) -> Iterator[Finding]:
    if place.area_m2 > 0:
        yield Finding(
            id="not-one-of",
            severity="stop",
            message=f"{what} on {size_text(place.area_m2, on)}.",
            remedy="Have the maps made so that each place has exactly one of these products.",
            area_m2=place.area_m2,
            where=on_earth(place.shape, on.the_shapes.frame),
        )


def _caps(plan: Plan, maps: Mapping[str, CheckedMap]) -> Iterator[Finding | NotChecked]:
    """Look whether products together bring more of a nutrient than the plan lets; one alone its own map tells."""
    for nutrient, cap in plan.caps.items():
        mine = {name: on for name, on in maps.items() if on.product is not None and carries(on.product, nutrient)}
        if len(mine) < 2:
            continue
        try:
            over = over_together(list(mine.values()), cap)
        except UnitError as err:
            yield NotChecked(id="nutrient-over-limit", why=f"{err.problem} {err.remedy}".strip())
            continue
        if not over:
            continue
        on = next(iter(mine.values()))
        shape = together(one.shape for one in over)
        area = float(shape.area)
        yield Finding(
            id="nutrient-over-limit",
            severity="stop",
            message=(
                f"{', '.join(mine)} together bring up to {rate_number_text(over[0].rate)} {cap.unit.name} onto "
                f"{size_text(area, on)}; the plan's cap is {cap}."
            ),
            remedy="Lower one of them there, or ask the adviser; nutrient rules differ from place to place.",
            area_m2=area,
            where=on_earth(shape, on.the_shapes.frame),
        )
