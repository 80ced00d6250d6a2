"""Order, cost and loads as people read them."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import floor

from vrx.model.content import FillContent, LoadsContent, OrderLine
from vrx.model.ledger import Ledger, ProductLedger
from vrx.model.loads import FilledBox, Loads
from vrx.model.order import Order
from vrx.model.plan import Plan
from vrx.model.price import package_text
from vrx.model.product import Product
from vrx.reports.words import area_words, change_number, money_number, share_of_width_words
from vrx.units import amount_text, amount_unit, number_text, rate_number_text
from vrx.words import some


def price_words(order: Order) -> str:
    """Return the price, also by the product's own unit: ``412 USD/short_ton = 2.27836 USD/gal``."""
    if order.price is None or order.each is None:
        return ""
    own = f"{rate_number_text(float(order.each))} {order.price.currency}/{order.unit}"
    return str(order.price) if order.price.unit.name == order.unit else f"{order.price} = {own}"


def cost_words(amount: Fraction | float, order: Order) -> str:
    """Return what an amount costs, without the currency; empty where there is no price."""
    cost = order.cost(amount)
    return "" if cost is None else money_number(cost)


def total_cost(ledger: Ledger) -> str:
    """Return what all orders cost together, with the products that have no price; empty where none has one."""
    priced = [one.order for one in ledger.products if one.order.price is not None]
    if not priced:
        return ""
    total = sum((order.cost(order.to_order) or Fraction(0) for order in priced), Fraction(0))
    unpriced = [one.product for one in ledger.products if one.order.price is None]
    without = f", without {some(unpriced)}" if unpriced else ""
    currency = next(order.price.currency for order in priced if order.price is not None)
    return f"{money_number(total)} {currency}{without}"


def order_lines(order: Order, digits: int) -> tuple[OrderLine, ...]:
    """Return the order as lines that add up, what is to have the last; none where the plan says nothing of it."""
    return tuple(_order_lines(order, digits)) if order.is_said else ()


def order_sum(order: Order, digits: int) -> str:
    """Return the order in one line that adds up; empty where the plan says nothing of it."""
    if not order.is_said:
        return ""
    *parts, last = _order_lines(order, digits)
    sums = ", ".join(f"{one.label[:1].lower()}{one.label[1:]} {one.amount}" for one in parts)
    cost = f"; {last.cost} {order.price.currency} at {price_words(order)}" if order.price is not None else ""
    return f"to have {last.amount} {order.unit}{f' = {sums}' if sums else ''}{cost}"


def _order_lines(order: Order, digits: int) -> Iterator[OrderLine]:
    def line(label: str, amount: Fraction, text: str) -> OrderLine:
        return OrderLine(label=label, amount=text, cost=cost_words(amount, order))

    if order.overlap_share or order.package is not None:
        yield line("On the map", order.prescribed, f"{float(order.prescribed):,.{digits}f}")
    if order.overlap_share:
        share = number_text(order.overlap_share * 100)
        yield line(f"Overlap of passes ({share} %)", order.overlap, change_number(float(order.overlap), digits))
    if order.package is not None:
        held = f"Whole packages ({order.packages:,} x {package_text(order.package)})"
        yield line(held, order.rounding, change_number(float(order.rounding), digits))
    yield line("To have", order.to_order, f"{float(order.to_order):,.{digits}f}")


def loads_content(account: ProductLedger, product: Product, plan: Plan, digits: int) -> LoadsContent | None:
    """Return the loads of a product with their fill sheet; None where no box carries it."""
    loads = account.loads
    if loads is None:
        return None
    several = len(loads.boxes) > 1

    def amount(value: Fraction) -> str:
        return f"{float(value):,.{digits}f}"

    return LoadsContent(
        summary=_summary(loads, amount(loads.each), amount(loads.last)),
        boxes=tuple(_box_name(at, box) for at, box in enumerate(loads.boxes)) if several else ("Fill to",),
        fills=tuple(
            FillContent(
                load=fill.numbers,
                fill_to=tuple(_level(box, fill.amount, digits) for box in loads.boxes),
                puts_out=amount(fill.amount),
                covers=area_words(loads.area_m2(fill.amount), plan),
            )
            for fill in loads.fills
        ),
        watch=tuple(_watch(loads)) if loads.count else (),
        notes=tuple(_notes(loads, account, product)) if loads.count else (),
    )


def _level(box: FilledBox, load: Fraction, digits: int) -> str:
    """Return to where a box is filled; never rounded to above what it may hold."""
    level, unit = box.fill_to(load), Fraction(1, 10**digits)
    rounded = round(level / unit) * unit
    shown = rounded if rounded <= box.full else floor(level / unit) * unit
    return f"{float(shown):,.{digits}f}"


def _summary(loads: Loads, each: str, last: str) -> str:
    unit = loads.unit
    if not loads.count:
        return "nothing to load"
    if not loads.whole:
        return f"one part load of {last} {unit}"
    whole = f"{loads.whole:,} whole load{'s' * (loads.whole > 1)} of {each} {unit}"
    return f"{whole} and a last part load of {last} {unit}" if loads.last else whole


def _watch(loads: Loads) -> Iterator[str]:
    if len(loads.boxes) > 1:
        yield (
            "The boxes share the product as their drives share the width."
            if loads.by_width
            else "The plan does not say which drives each box feeds, so all boxes are taken to put out the same."
        )
        first = loads.first_empty
        if len(first) < len(loads.boxes):
            yield f"{_box_name(first[0], loads.boxes[first[0]])} is empty first and ends a load."
    if loads.stays:
        yield f"{_number(loads.stays)} {loads.unit} stay in at the end: filled in once, and not in the order."


def _notes(loads: Loads, account: ProductLedger, product: Product) -> Iterator[str]:
    unit, several = loads.unit, len(loads.boxes) > 1
    for at, box in enumerate(loads.boxes):
        name = _box_name(at, box) if several else "The box"
        held = f"{name} holds {_number(box.full)} {unit}{', the most that it may weigh' if box.by_weight else ''}"
        kept = f"; {_number(box.keep_back)} {unit} of it can't be put out" if box.keep_back else ""
        share = f"; it puts out {_number(box.share * 100)} % of the product" if several else ""
        yield f"{held}{kept}{share}."
    per_m2 = amount_unit(product.unit).factor / product.unit.factor
    average = rate_number_text(float(loads.needed) / loads.treated_m2 * float(per_m2 / account.share))
    overlap = ", overlap of passes counted in" if account.order.overlap_share else ""
    on = f" on {share_of_width_words(account.share)} of the width" if account.share != 1 else ""
    yield (
        f"What a load covers is worked out at the average rate of the ground that gets any, {average} "
        f"{product.unit.name}{on}{overlap}: it lasts less far where the map gives more."
    )


def _box_name(at: int, box: FilledBox) -> str:
    drives = f" ({', '.join(box.drives)})" if box.drives else ""
    return f"Box {at + 1}{drives}"


def _number(value: Fraction) -> str:
    return amount_text(float(value))
