"""Rate classes: what a legend lists. A rate each, or spans of rates where there are too many to tell apart."""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum

from vrx.model.content import RateClass
from vrx.model.ledger import ProductLedger
from vrx.model.plan import Plan
from vrx.model.product import Product
from vrx.reports.order_words import cost_words
from vrx.reports.words import amount_digits, area_number, share_words
from vrx.units import number_text

_MOST_RATES = 12
_SPANS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Classes:
    """The classes from the lowest to the highest, and which of them each row of the ledger is in."""

    classes: tuple[RateClass, ...]
    of_row: tuple[int, ...]


def rate_classes(product: Product, account: ProductLedger, plan: Plan) -> Classes:
    """Sort the rows of a ledger by their given rate."""
    given = [row.given for row in account.rows]
    distinct = sorted(set(given))
    on = [rate for rate in distinct if rate > 0]
    if len(on) <= _MOST_RATES:
        spans = [(rate, rate) for rate in on]
    else:
        # Equal counts of steps a span, so that a span's bounds are rates that the machine knows.
        steps = int((on[-1] - on[0]) / product.step.value) + 1
        each = -(-steps // _SPANS) * product.step.value
        bounds = [(on[0] + at * each, on[0] + (at + 1) * each - product.step.value) for at in range(_SPANS)]
        spans = [(low, min(high, on[-1])) for low, high in bounds if any(low <= rate <= high for rate in on)]
    off = [(distinct[0], distinct[0])] if distinct and distinct[0] == 0 else []
    spans = [*off, *spans]
    class_of = {rate: next(at for at, (low, high) in enumerate(spans) if low <= rate <= high) for rate in distinct}
    of_row = tuple(class_of[rate] for rate in given)
    digits = amount_digits(account.total_given, account.total_unit)
    classes = []
    for at, (low, high) in enumerate(spans):
        rows = [row for row, mine in zip(account.rows, of_row, strict=True) if mine == at]
        area = fsum(row.geodesic_area_m2 for row in rows)
        amount = fsum(row.amount_given for row in rows)
        place = at - len(off)
        classes.append(
            RateClass(
                rate=number_text(low) if low == high else f"{number_text(low)} to {number_text(high)}",
                shade=-1.0 if low == 0 else place / (len(spans) - len(off) - 1) if len(spans) - len(off) > 1 else 0.5,
                area=area_number(area, plan),
                share=share_words(area, account.geodesic_area_m2),
                amount=f"{amount:,.{digits}f}",
                cost=cost_words(amount, account.order),
            )
        )
    return Classes(classes=tuple(classes), of_row=of_row)
