"""The ledger as a table: a line a zone, and lines of totals that add up."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import isnan

from vrx.model.ledger import Ledger, ProductLedger
from vrx.units import ACRE_M2, HECTARE_M2, SURVEY_ACRE_M2, Acre

HEADER = (
    "line", "product", "zone", "wanted", "given", "unit", "why",
    "geodesic_m2", "geodesic_ac", "geodesic_ha", "grid_m2", "grid_ac", "grid_ha",
    "amount_wanted", "amount_after_limits", "amount_given", "amount_unit",
)  # fmt: skip


def table_of(ledger: Ledger, *, acre: Acre) -> Iterator[tuple[object, ...]]:
    """Yield the rows of a ledger in full precision, in the columns of ``HEADER``.

    ``line`` says what a row is: ``zone``; ``total`` of a product; ``changed by limits``, ``changed by joining``
    and ``to buy`` below it; ``keep-outs``, ``ground to treat`` and ``boundary`` of the field.
    """
    acre_m2 = float(SURVEY_ACRE_M2 if acre == "us_survey" else ACRE_M2)

    def areas(geodesic_m2: float | None, grid_m2: float | None) -> tuple[object, ...]:
        cells: list[object] = []
        for area in (geodesic_m2, grid_m2):
            cells += [None] * 3 if area is None else [area, area / acre_m2, area / float(HECTARE_M2)]
        return tuple(cells)

    for product in ledger.products:
        yield from _product(product, areas)
    nothing = (None,) * 4
    whole = ledger.boundary_area_m2
    yield ("keep-outs", *[None] * 6, *areas(ledger.keep_out_area_m2, None), *nothing)
    yield ("ground to treat", *[None] * 6, *areas(ledger.geodesic_area_m2, ledger.grid_area_m2), *nothing)
    yield ("boundary", *[None] * 6, *areas(whole, None), *nothing)


def _product(
    product: ProductLedger, areas: Callable[[float | None, float | None], tuple[object, ...]]
) -> Iterator[tuple[object, ...]]:
    unit = product.total_unit
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
        )
    blank = (None,) * 5
    limited = product.total_wanted + product.changed_by_limits
    yield (
        "total", product.product, *blank, *areas(product.geodesic_area_m2, product.grid_area_m2),
        product.total_wanted, limited, product.total_given, unit,
    )  # fmt: skip
    no_area = areas(None, None)
    yield ("changed by limits", product.product, *blank, *no_area, None, product.changed_by_limits, None, unit)
    yield ("changed by joining", product.product, *blank, *no_area, None, None, product.changed_by_joining, unit)
    for name, amount in product.to_buy:
        yield ("to buy", product.product, *blank, *no_area, None, None, amount, name)
