"""The ledger as a table: a line a zone, and lines of totals that add up."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from math import isnan

from vrx.model.ledger import Ledger, ProductLedger
from vrx.units import ACRE_M2, HECTARE_M2, SURVEY_ACRE_M2, Acre

HEADER = (
    "line", "product", "zone", "wanted", "given", "unit", "why",
    "geodesic_m2", "geodesic_ac", "geodesic_ha", "grid_m2", "grid_ac", "grid_ha",
    "amount_wanted", "amount_after_limits", "amount_given", "amount_unit", "cost", "currency",
)  # fmt: skip


def table_of(ledger: Ledger, *, acre: Acre) -> Iterator[tuple[object, ...]]:
    """Yield the rows of a ledger in full precision, in the columns of ``HEADER``.

    ``line`` says what a row is: ``zone``; ``total`` of a product; ``share of the width``, the ground of the field that
    the product gets where it is on a part of the width, by which all its amounts go; ``overlay`` with its ground and
    how much it changes the wanted total, which holds it; ``changed by limits``, ``changed by joining`` and
    ``in other units`` below it;
    where the plan names overlap, packages or a price ``overlap``, ``whole packages`` and
    ``to have``, the sum of total, overlap and whole packages; ``load``, with its number and what it puts out and
    covers, where it names boxes;
    ``keep-outs``, ``outside the part``, ``ground to treat`` and ``boundary`` of the field.
    """
    acre_m2 = float(SURVEY_ACRE_M2 if acre == "us_survey" else ACRE_M2)

    def areas(geodesic_m2: float | None, grid_m2: float | None) -> tuple[object, ...]:
        cells: list[object] = []
        for area in (geodesic_m2, grid_m2):
            cells += [None] * 3 if area is None else [area, area / acre_m2, area / float(HECTARE_M2)]
        return tuple(cells)

    for product in ledger.products:
        yield from _product(product, areas)
    nothing = (None,) * 6
    whole = ledger.boundary_area_m2
    yield ("keep-outs", *[None] * 6, *areas(ledger.keep_out_area_m2, None), *nothing)
    if ledger.rest_area_m2:
        yield ("outside the part", *[None] * 6, *areas(ledger.rest_area_m2, None), *nothing)
    yield ("ground to treat", *[None] * 6, *areas(ledger.geodesic_area_m2, ledger.grid_area_m2), *nothing)
    yield ("boundary", *[None] * 6, *areas(whole, None), *nothing)


def _product(
    product: ProductLedger, areas: Callable[[float | None, float | None], tuple[object, ...]]
) -> Iterator[tuple[object, ...]]:
    unit, order, no_cost = product.total_unit, product.order, (None, None)

    def cost(amount: Fraction | float) -> tuple[object, object]:
        money = order.cost(amount)
        return no_cost if money is None or order.price is None else (float(money), order.price.currency)

    for row in product.rows:
        yield (
            "zone",
            product.product,
            row.zone,
            None if isnan(row.wanted) else row.wanted,
            float(row.given),
            product.unit,
            row.why,
            *areas(row.geodesic_area_m2, row.grid_area_m2),
            row.amount_wanted,
            row.amount_limited,
            row.amount_given,
            unit,
            *cost(row.amount_given),
        )
    blank = (None,) * 5
    limited = product.total_wanted + product.changed_by_limits
    yield (
        "total", product.product, *blank, *areas(product.geodesic_area_m2, product.grid_area_m2),
        product.total_wanted, limited, product.total_given, unit, *cost(product.total_given),
    )  # fmt: skip
    if product.share != 1:
        ground = areas(product.product_area_m2, product.grid_area_m2 * float(product.share))
        yield ("share of the width", product.product, *blank, *ground, None, None, None, None, *no_cost)
    no_area = areas(None, None)
    for one in product.overlays:
        ground = areas(one.area_m2, None)
        yield ("overlay", product.product, one.name, *blank[1:], *ground, one.amount, None, None, unit, *no_cost)
    yield (
        "changed by limits",
        product.product,
        *blank,
        *no_area,
        None,
        product.changed_by_limits,
        None,
        unit,
        *no_cost,
    )
    yield (
        "changed by joining",
        product.product,
        *blank,
        *no_area,
        None,
        None,
        product.changed_by_joining,
        unit,
        *no_cost,
    )
    for name, amount in product.to_buy:
        yield ("in other units", product.product, *blank, *no_area, None, None, amount, name, *no_cost)
    parts = {"overlap": order.overlap, "whole packages": order.rounding, "to have": order.to_order}
    for line, part in parts.items() if order.is_said else ():
        yield (line, product.product, *blank, *no_area, None, None, float(part), unit, *cost(part))
    if product.loads is None:
        return
    for fill in product.loads.fills:
        covers = areas(product.loads.area_m2(fill.amount), None)
        each = ", each" if fill.last > fill.first else ""
        words = f"{fill.numbers}{each}"
        yield (
            "load", product.product, *blank[:-1], words, *covers, None, None, float(fill.amount), unit, *no_cost,
        )  # fmt: skip
