"""How rates come about: the way in words, and one zone worked through so that a person can do it by hand."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from itertools import pairwise
from math import isnan

from vrx.dosing.amounts import amount_per_m2
from vrx.model.ledger import LedgerRow, ProductLedger
from vrx.model.plan import Plan, RateByBreaks, RateByColumn, RateByFormula, RateByLine, RateByTable, RateOfPlan
from vrx.model.prescription import ProductMap
from vrx.model.product import Product
from vrx.reports.words import amount_digits, area_unit, area_unit_m2, area_words, share_of_width_words, wanted_number
from vrx.units import number_text, rate_number_text

_MOST_TOLD = 12


def method(rate: RateOfPlan, found: ProductMap, plan: Plan) -> tuple[str, ...]:
    """Say in order what turns an input into the rate that is given."""
    product = found.product
    return (
        *_wanted(rate),
        *(f"{_capital(one)}." for one in found.sums),
        *(f"Overlay {one.name}, in the order of the plan: {one.what}." for one in found.overlays),
        f"Limits: {product.name} can be given at {product.allowed_text}{_rounding(product)}.",
        *_beyond(product),
        *_joining(plan, product),
    )


def example(rate: RateOfPlan, found: ProductMap, account: ProductLedger, plan: Plan) -> tuple[str, ...]:
    """Work through the largest row whose rate was changed, else the largest one; a step a sentence."""
    known = [row for row in account.rows if not isnan(row.wanted) and row.inputs]
    if not known:
        return ()
    row = max(known, key=lambda one: (bool(one.why), one.geodesic_area_m2))
    at = account.rows.index(row)
    piece = account.row_of.index(at)
    return tuple(_steps(rate, found, row, piece, plan))


def _steps(rate: RateOfPlan, found: ProductMap, row: LedgerRow, piece: int, plan: Plan) -> Iterator[str]:
    product, unit = found.product, found.product.unit
    wanted = f"{wanted_number(row.wanted, product)} {unit.name}"
    yield f"Zone {row.zone}: {_reading(rate, found, piece)}."
    if found.overlay_steps[piece]:
        yield f"Overlays: {found.overlay_steps[piece]}."
    yield f"Wanted: {wanted}{', by the conversion above' if found.sums else ''}."
    changed = f", {row.why}" if row.why else ": an allowed rate, nothing changes"
    yield f"After limits and steps: {number_text(row.limited)} {unit.name}{changed}."
    if row.given != row.limited:
        yield f"After joining small parts: {number_text(row.given)} {unit.name}."
    decimals = amount_digits(row.amount_given, unit.amount)
    ground = _ground(row, found, plan)
    per = "" if unit.per == area_unit(plan) else f" ({_per_area(row, product, plan)})"
    amount = f"{row.amount_given:,.{decimals}f} {unit.amount}"
    yield f"Amount: {number_text(row.given)} {unit.name}{per} x {ground} = {amount}."


def _ground(row: LedgerRow, found: ProductMap, plan: Plan) -> str:
    whole = area_words(row.geodesic_area_m2, plan)
    if found.share == 1:
        return whole
    own = area_words(row.geodesic_area_m2 * float(found.share), plan)
    return f"{own} of this product ({share_of_width_words(found.share)} of {whole})"


def _per_area(row: LedgerRow, product: Product, plan: Plan) -> str:
    amount = float(row.given * amount_per_m2(product.unit)) * area_unit_m2(plan)
    return f"{rate_number_text(amount)} {product.unit.amount}/{area_unit(plan)}"


def _reading(rate: RateOfPlan, found: ProductMap, piece: int) -> str:
    text, value = found.inputs[piece], float(found.values[piece])
    if isinstance(rate, RateByTable):
        return f"the table says {text}"
    if isinstance(rate, RateByColumn):
        return f"the layer's field {rate.column} says {text}"
    if isinstance(rate, RateByBreaks):
        at = bisect_right(rate.breaks, value)
        return f"{text} is in the class {_class_text(rate, at)}: {rate.rates[at]}"
    if isinstance(rate, RateByLine):
        return f"{text} {_on_line(rate, value)}"
    if isinstance(rate, RateByFormula):
        return ": ".join(filter(None, (text, found.worked[piece])))
    return text


def _on_line(rate: RateByLine, value: float) -> str:
    (first, at_first), (last, at_last) = rate.points[0], rate.points[-1]
    if value <= first:
        return f"is not above {first:.10g}, where the line begins: {at_first}"
    if value >= last:
        return f"is not below {last:.10g}, where the line ends: {at_last}"
    for (low, at_low), (high, at_high) in pairwise(rate.points):
        if low <= value <= high:
            return (
                f"lies between {low:.10g} ({at_low}) and {high:.10g} ({at_high}): {number_text(at_low.value)} + "
                f"({value:.10g} - {low:.10g}) / ({high:.10g} - {low:.10g}) x ({number_text(at_high.value)} - "
                f"{number_text(at_low.value)})"
                if at_low.unit == at_high.unit
                else f"lies between {low:.10g} ({at_low}) and {high:.10g} ({at_high})"
            )
    return ""


def _wanted(rate: RateOfPlan) -> Iterator[str]:
    if isinstance(rate, RateByTable):
        where = f"the file {rate.table}" if isinstance(rate.table, str) else "the plan"
        yield f"Wanted: every zone has its rate in a table in {where}."
    elif isinstance(rate, RateByColumn):
        yield f"Wanted: the field {rate.column} of the zone layer, in {rate.unit}."
    elif isinstance(rate, RateByBreaks):
        classes = [f"{_class_text(rate, at)}: {rate.rates[at]}" for at in range(len(rate.rates))]
        yield f"Wanted: by classes of {rate.of}. {_some(classes)}."
    elif isinstance(rate, RateByLine):
        points = [f"{number:.10g}: {at}" for number, at in rate.points]
        yield f"Wanted: read off straight lines over {rate.of}, held at both ends. {_some(points)}."
    elif isinstance(rate, RateByFormula):
        constants = [f"{name} = {number:.10g}" for name, number in rate.constants.items()]
        known = f", with {_some(constants)}" if constants else ""
        yield f"Wanted: by the formula {' '.join(rate.formula.split())}{known}, in {rate.unit}."


def _class_text(rate: RateByBreaks, at: int) -> str:
    if at == 0:
        return f"below {rate.breaks[0]:.10g}"
    if at == len(rate.breaks):
        return f"{rate.breaks[-1]:.10g} and more"
    return f"{rate.breaks[at - 1]:.10g} to below {rate.breaks[at]:.10g}"


def _rounding(product: Product) -> str:
    if product.rounding != "nearest":
        return f", rounded {product.rounding}"
    tie = "down" if product.use == "crop protection" else "up"
    return f", rounded to the nearest of them, and {tie} where two are as near"


def _beyond(product: Product) -> Iterator[str]:
    below = {
        "raise": "raised to the lowest allowed rate",
        "half": "shut off below half of it, else raised to it",
        "off": "shut off",
        "refuse": "refused",
    }[product.below_min]
    if product.lowest > 0:
        yield f"A rate below the minimum of {product.min} is {below}; 0 stays 0."
    above = {"lower": "lowered to the highest allowed rate", "refuse": "refused"}[product.above_max]
    yield f"A rate above the maximum of {product.max} is {above}."


def _joining(plan: Plan, product: Product) -> Iterator[str]:
    parts = []
    if plan.smallest_area > 0:
        parts.append(f"smaller than {area_words(plan.smallest_area, plan)}")
    narrow = plan.machine.narrowest_m(product.name)
    if narrow is not None and plan.thin_parts == "join":
        parts.append("narrower than the narrowest group of drives that carries it")
    if parts:
        yield f"Parts {' or '.join(parts)} take the rate of the neighbour with the longest shared border."


def _some(words: list[str]) -> str:
    more = f"; and {len(words) - _MOST_TOLD} more" if len(words) > _MOST_TOLD else ""
    return "; ".join(words[:_MOST_TOLD]) + more


def _capital(text: str) -> str:
    # A unit keeps its case: "lb S/ac" is no beginning of a sentence that may be changed.
    return f"Conversion: {text.rstrip('.')}"
