"""Two products of one form on parts of the width: each is accounted for by its share, and told both ways.

Expected values are worked out by hand: acres of the field times the share times the rate.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from support_products import product, seed
from support_zone_maps import build_of, plan_of, prescription_of, zone_map

from vrx.ledgers.build import ledger_of
from vrx.ledgers.table import HEADER, table_of
from vrx.model.build import Build
from vrx.model.product import Product
from vrx.reports.as_json import build_json
from vrx.reports.terminal import build_text
from vrx.units import ACRE_M2

ACRE = float(ACRE_M2)
ROW_IN = 30

BAR = product(price="2 USD/gal", overlap="10 %")
EARLY = seed(name="Early", package="unit(80000 seeds)", price="300 USD/unit(80000 seeds)")
LATE = seed(name="Late")


def rows(first: int, last: int) -> list[str]:
    """Return the span of rows of a planter of 24 rows, counted from the left."""
    return [f"{(first - 13) * ROW_IN} in", f"{(last - 12) * ROW_IN} in"]


def drive(name: str, span: list[str], carried: str) -> dict[str, Any]:
    return {"name": name, "span": span, "product": carried}


HALVES = [
    drive("left", rows(1, 12), "Early"),
    drive("right", rows(13, 24), "Late"),
    drive("bar", rows(1, 24), "Liquid A"),
]
PRODUCTS = (EARLY, LATE, BAR)
RATES: list[dict[str, float | None]] = [
    {"A": 32000.0, "B": 20000.0}, {"A": 30000.0, "B": 30000.0}, {"A": 12.0, "B": 20.0},
]  # fmt: skip
WIDTHS = [80 * ACRE / 100, 40 * ACRE / 100]
"""Zone A of 80 ac and zone B of 40 ac."""


def built(
    drives: list[dict[str, Any]], *products: Product, rates: list[dict[str, float | None]] | None = None, **keys: Any
) -> Build:
    machine = {"width": f"{24 * ROW_IN} in", "drive": drives} | keys.pop("machine", {})
    plan = plan_of(*(products or PRODUCTS), units="us", machine=machine, **keys)
    drawn = zone_map("A B", widths=WIDTHS)
    return build_of(plan, prescription_of(drawn, plan, *(rates or RATES)))


def test_halves_of_a_planter_take_half() -> None:
    """Two hybrids on 12 rows each, on 120 ac: each has 60 ac; a liquid beside them has every acre."""
    early, late, bar = built(HALVES).ledger.products
    assert (early.share, late.share, bar.share) == (Fraction(1, 2), Fraction(1, 2), 1)
    for one in (early, late, bar):
        assert one.geodesic_area_m2 == pytest.approx(120 * ACRE)
        assert [row.geodesic_area_m2 for row in one.rows] == pytest.approx([80 * ACRE, 40 * ACRE])
    assert [one.product_area_m2 / ACRE for one in (early, late, bar)] == pytest.approx([60, 60, 120])
    assert early.total_given == pytest.approx(40 * 32000 + 20 * 20000)
    assert [row.amount_given for row in early.rows] == pytest.approx([40 * 32000, 20 * 20000])
    assert late.total_given == pytest.approx(60 * 30000)
    assert bar.total_given == pytest.approx(80 * 12 + 40 * 20)


def test_order_and_other_units_go_by_the_share() -> None:
    """Early takes 1,680,000 seeds, which are 21 units of 80,000 and cost 6,300 USD."""
    early = built(HALVES).ledger.products[0]
    assert (early.order.packages, float(early.order.to_order)) == (21, 1_680_000)
    assert float(early.order.cost(early.order.to_order) or 0) == pytest.approx(6300)
    assert dict(early.to_buy)["thousand seeds"] == pytest.approx(1680)


@pytest.mark.parametrize(
    ("drives", "shares"),
    [
        pytest.param([drive("1", rows(1, 16), "Early"), drive("2", rows(9, 24), "Late")], (2 / 3, 2 / 3), id="overlap"),
        pytest.param([drive("1", rows(1, 8), "Early"), drive("2", rows(9, 24), "Late")], (1 / 3, 2 / 3), id="a third"),
        pytest.param(
            [drive("1", rows(1, 12), "Early"), {"name": "2", "span": rows(13, 24), "one_of": ["Early", "Late"]}],
            (1, 1 / 2), id="one of two by place",
        ),
        pytest.param([], (1, 1), id="no drives"),
    ],
)  # fmt: skip
def test_rate_times_acres_of_the_product_is_its_amount(
    drives: list[dict[str, Any]], shares: tuple[float, float]
) -> None:
    """In every row and in the total, wanted, after limits and given."""
    early, late = built(drives, EARLY, LATE, rates=RATES[:2]).ledger.products
    assert (float(early.share), float(late.share)) == pytest.approx(shares)
    for one in (early, late):
        for row in one.rows:
            acres = row.geodesic_area_m2 / ACRE * float(one.share)
            assert row.amount_wanted == pytest.approx(row.wanted * acres)
            assert row.amount_limited == pytest.approx(float(row.limited) * acres)
            assert row.amount_given == pytest.approx(float(row.given) * acres)


def test_what_limits_change_goes_by_the_share() -> None:
    """15,000 seeds/ac are raised to 20,000 on 40 ac of the field: 20 ac of Early, 100,000 seeds more."""
    rates: list[dict[str, float | None]] = [{"A": 32000.0, "B": 15000.0}, RATES[1]]
    made = built(HALVES[:2], EARLY, LATE, rates=rates)
    assert made.ledger.products[0].changed_by_limits == pytest.approx(100_000)
    said = " ".join(one.message for one in made.findings if one.product == "Early")
    assert "the total changes by +100,000 seeds" in said
    assert "on 16.1874 ha (40.000 ac) of the field, 8.0937 ha (20.000 ac) of this product" in said


def test_what_joining_changes_goes_by_the_share() -> None:
    """A zone of 0.04 ac joins its neighbour, from 20,000 to 32,000 seeds/ac: 0.02 ac of Early, 240 seeds more."""
    plan = plan_of(EARLY, LATE, units="us", machine={"drive": HALVES[:2]}, smallest_area="0.1 ac")
    drawn = zone_map("A B", widths=[80 * ACRE / 100, 0.04 * ACRE / 100])
    made = prescription_of(drawn, plan, *RATES[:2])
    early = ledger_of(made, field="Vlei", system="us").products[0]
    assert early.changed_by_joining == pytest.approx(240)
    (said,) = [one.message for one in made.findings if one.id == "parts-joined" and one.product == "Early"]
    assert "the total changes by +240 seeds" in said


def test_loads_are_of_the_share_and_cover_the_field() -> None:
    """Late: 1,800,000 seeds from two boxes are 3 loads of 600,000, each 40 ac of the field, at 30,000 seeds/ac."""
    drives = [HALVES[0], drive("3", rows(13, 18), "Late"), drive("4", rows(19, 24), "Late")]
    tanks = [
        {"product": "Late", "size": "300000 seeds", "drives": ["3"]},
        {"product": "Late", "size": "400000 seeds", "drives": ["4"]},
    ]
    made = built(drives, EARLY, LATE, rates=RATES[:2], machine={"tank": tanks})
    late, loads = made.ledger.products[1], made.ledger.products[1].loads
    assert loads is not None
    assert [box.share for box in loads.boxes] == [Fraction(1, 2)] * 2
    assert (late.share, loads.whole, loads.last, float(loads.each)) == (Fraction(1, 2), 3, 0, 600_000)
    assert loads.area_m2(loads.each) == pytest.approx(40 * ACRE)
    content = made.content.products[1].loads
    assert content is not None
    assert any("30000 seeds/ac on 50 % of the width" in line for line in content.notes)


def test_people_are_told_both_acres() -> None:
    """Terminal, content and JSON say acres of the field and of the product; a whole width says none."""
    made = built(HALVES)
    early, _, bar = made.content.products
    assert (early.true_area, early.product_area, early.share) == ("120.000 ac", "60.000 ac", "50 %")
    assert early.width_note.startswith("50 % of the width carries it: it gets 60.000 ac of the 120.000 ac of the")
    assert (bar.product_area, bar.share, bar.width_note) == ("", "", "")
    assert "on 120.000 ac of the field, 60.000 ac of this product = wanted 1,680,000," in early.sums
    assert "on 120.000 ac = wanted" in bar.sums
    text = " ".join(build_text(made).split())
    assert early.width_note in text
    assert text.count("of the width carries it") == 2
    said = build_json(made)["products"]
    assert isinstance(said, list)
    assert [(one["share_of_width"], one["product_area_m2"] / ACRE) for one in said] == [
        (0.5, pytest.approx(60)), (0.5, pytest.approx(60)), (1, pytest.approx(120)),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("share", "words"),
    [
        pytest.param(12, "50 %", id="a half"), pytest.param(8, "1/3", id="a third"),
        pytest.param(6, "25 %", id="a quarter"),
        pytest.param(3, "12.5 %", id="an eighth"), pytest.param(1, "1/24", id="a row"),
    ],
)  # fmt: skip
def test_a_share_is_told_exactly(share: int, words: str) -> None:
    """In percent where that ends, else as a fraction."""
    made = built(
        [drive("1", rows(1, share), "Early"), drive("2", rows(share + 1, 24), "Late")], EARLY, LATE, rates=RATES[:2]
    )
    assert made.content.products[0].share == words


def test_the_table_has_a_line_for_the_share() -> None:
    """Below the total stands the ground of the product; totals and rows keep that of the field."""
    made = built(HALVES)
    lines = [dict(zip(HEADER, row, strict=True)) for row in table_of(made.ledger, acre="international")]
    mine = [one for one in lines if one["line"] == "share of the width"]
    assert [(one["product"], one["geodesic_ac"]) for one in mine] == [
        ("Early", pytest.approx(60)), ("Late", pytest.approx(60)),
    ]  # fmt: skip
    total = next(one for one in lines if one["line"] == "total" and one["product"] == "Early")
    assert (total["geodesic_ac"], total["amount_given"]) == (pytest.approx(120), pytest.approx(1_680_000))


def test_the_map_of_a_product_knows_its_share() -> None:
    """A ledger without the machine, as one that compares a swapped product makes, has the same shares."""
    plan = plan_of(EARLY, LATE, units="us", machine={"drive": HALVES[:2]})
    made = prescription_of(zone_map("A B", widths=WIDTHS), plan, *RATES[:2])
    with_machine = ledger_of(made, field="Vlei", system="us", machine=plan.machine)
    assert ledger_of(made, field="Vlei", system="us") == with_machine
    assert with_machine.products[0].share == Fraction(1, 2)
