"""What a check says in words: verdict, what the map is for, what was read and how, what was not looked at."""

from __future__ import annotations

from typing import Final

import numpy as np

from vrx.geo.crs import short_name
from vrx.model.check import Check
from vrx.model.checked_map import CheckedMap, How, MapRates
from vrx.model.finding import Finding
from vrx.units import area_text, rate_number_text

NO_REMEDY: Final = "Ask whoever made the map."
_COLUMN_FROM: Final[dict[How, str]] = {
    "said": "the one that was said",
    "bundle": "as its bundle says",
    "plan": "the rate column of the plan",
    "name": "known by its name",
    "only": "the only one that can hold rates",
}
_UNIT_FROM: Final[dict[How, str]] = {
    "said": "the unit that was said",
    "bundle": "as its bundle says",
    "plan": "the unit of the plan's receiver",
    "name": "as the column's name says",
}


def verdict_words(check: Check) -> str:
    """Return the verdict as one sentence or two; it begins with CLEAR, CAUTION or STOP."""
    name = check.on.source.name
    if check.verdict == "stop":
        return f"STOP: do not load {name}."
    count = len(of_severity(check, "caution"))
    if check.verdict == "caution":
        return f"CAUTION: look at {count} thing{'s'[: count != 1]} before loading {name}."
    unknown = unknown_words(check.on)
    if not unknown:
        return f"CLEAR: nothing speaks against loading {name}."
    blind = len({one.id for one in check.not_checked})
    checks = f"{blind} rule{'s'[: blind != 1]} had nothing to look at" if blind else "Not all is known"
    return f"CLEAR as far as could be looked: {name}. {checks}: {unknown}."


def of_severity(check: Check, severity: str) -> tuple[Finding, ...]:
    """Return the findings of one severity."""
    return tuple(one for one in check.findings if one.severity == severity)


def unknown_words(on: CheckedMap) -> str:
    """Return what has to be known for the verdict to mean much, and is not: ``no plan, no product``; else nothing."""
    missing = [
        word
        for word, there in (("plan", on.plan), ("product", on.product), ("boundary", on.ground), ("rates", on.rates))
        if there is None
    ]
    return ", ".join(f"no {one}" for one in missing)


def purpose_words(on: CheckedMap) -> str:
    """Return for which product and field the map was looked at; empty where neither is known."""
    product = ""
    if on.product is not None:
        product = f"{on.product.name} ({on.product.allowed_text})"
    elif on.product_asked:
        product = f"{on.product_asked}, whose limits are not known,"
    field = ""
    if on.plan is not None:
        said = (on.plan.field.name, on.plan.field.crop, on.plan.field.season)
        field = ", ".join(str(one) for one in said if one)
    elif on.ground is not None:
        field = "the field of the boundary"
    words = " on ".join(filter(None, (product, field)))
    return f"Checked for {words.rstrip(',')}." if words else ""


def read_words(on: CheckedMap) -> tuple[str, ...]:
    """Return what was read: shapes and true ground, then column, unit and rates, with how these were found."""
    if on.layer is None:
        return ()
    count = len(on.layer.records)
    ground = "no ground" if on.shapes is None else f"{area_text(on.shapes.covered_m2, on.dialect)} of true ground"
    shapes = f"Read: {count:,} record{'s'[: count != 1]} on {ground}, in {short_name(on.layer.crs)}."
    return shapes, rates_words(on)


def rates_words(on: CheckedMap) -> str:
    """Return which column holds the rates, their unit and range, and how column and unit were found."""
    if on.rates is None:
        may = ", ".join(one.name for one in on.candidates)
        return f"It is not known which column holds the rates{f': it may be {may}' if may else ''}."
    if on.rates.column_how == on.rates.unit_how == "bundle":
        return f"Rates: column {on.rates.column} in {on.rates.unit_name}, as its bundle says; {range_words(on)}."
    return f"Rates: column {column_words(on.rates)}, {unit_words(on.rates)}; {range_words(on)}."


def column_words(rates: MapRates) -> str:
    """Return the column of the rates, and how it was found."""
    how = f" ({_COLUMN_FROM[rates.column_how]})" if rates.column_how in _COLUMN_FROM else ""
    return f"{rates.column}{how}"


def unit_words(rates: MapRates) -> str:
    """Return the unit of the rates, and how it was found."""
    if rates.unit is None:
        return "and the file does not say its unit"
    if rates.unit_how == "product":
        return f"and the file does not say its unit: read as {rates.unit.name}, the unit of the product"
    how = f" ({_UNIT_FROM[rates.unit_how]})" if rates.unit_how in _UNIT_FROM else ""
    return f"in {rates.unit.name}{how}"


def range_words(on: CheckedMap) -> str:
    """Return the range of the rates as the file writes them: ``70 to 180 lb/ac, and 0``."""
    if on.rates is None:
        return "no rates"
    numbers = on.rates.numbers.values
    known = numbers[np.isfinite(numbers)]
    if not len(known):
        return "no rate in any record"
    unit = on.rates.unit_name
    low, high = float(known.min()), float(known.max())
    above = known[known > 0]
    zero = low == 0 and high > 0
    if zero:
        low = float(above.min())
    span = rate_number_text(low) if low == high else f"{rate_number_text(low)} to {rate_number_text(high)}"
    words = f"{span} {unit}".rstrip() + (", and 0" if zero else "")
    without = len(numbers) - len(known)
    return f"{words}; no rate in {without:,} record{'s'[: without != 1]}" if without else words


def not_looked_at(check: Check) -> list[tuple[str, tuple[str, ...]]]:
    """Return why some rules could not look, each reason with the ids of its rules; what holds up most of them first."""
    by_why: dict[str, list[str]] = {}
    for one in check.not_checked:
        by_why.setdefault(one.why, []).append(one.id)
    grouped = [(why, tuple(dict.fromkeys(ids))) for why, ids in by_why.items()]
    return sorted(grouped, key=lambda one: -len(one[1]))


def next_step(check: Check) -> str:
    """Return what to do next."""
    stops = of_severity(check, "stop")
    if stops:
        return stops[0].remedy or NO_REMEDY
    if check.verdict == "caution":
        return "Look at these, then load it."
    if not unknown_words(check.on):
        return "Load it."
    return f"Load it if you know the rest yourself. To have it looked at: {_to_know(check)}"


def _to_know(check: Check) -> str:
    on = check.on
    if on.plan is None:
        return "name the plan of the pass with --plan; it knows field, products and machine."
    if on.rates is None:
        return "name the column of the rates with --column."
    if on.product is None:
        return "name the product with --product."
    return "name the boundary of the field with --boundary."
