"""Orders and loads in the ledger: beside the totals, never in them; and as lines of the table."""

from __future__ import annotations

from fractions import Fraction
from math import fsum
from typing import Any

import pytest
from support_products import granular, product, seed
from support_zone_maps import HA, plan_of, prescription_of, zone_map

from vrx.ledgers.build import ledger_of
from vrx.ledgers.table import HEADER, table_of
from vrx.model.ledger import Ledger
from vrx.model.product import Product
from vrx.units import ACRE_M2

ACRE = float(ACRE_M2)


def ledger(of: Product, rates: dict[str, float], widths: list[float], **machine: Any) -> Ledger:
    """Rate zones A, B ... of these widths, 100 m high."""
    plan = plan_of(of, units="us", machine=machine)
    made = prescription_of(zone_map(" ".join(rates), widths=widths), plan, rates)
    return ledger_of(made, field="Vlei", system="us", machine=plan.machine)


def lines(found: Ledger) -> list[dict[str, object]]:
    rows = list(table_of(found, acre="international"))
    assert all(len(row) == len(HEADER) for row in rows)
    return [dict(zip(HEADER, row, strict=True)) for row in rows]


def acres(*sizes: float) -> list[float]:
    """Widths that make zones of so many acres."""
    return [size * ACRE / 100 for size in sizes]


def test_no_total_holds_any_of_it() -> None:
    """Overlap, packages, price and boxes leave rows, totals and the total in other units as they are."""
    rates, widths = {"A": 12.0, "B": 18.0, "C": 0.0}, acres(40, 60, 20)
    plain = ledger(product(), rates, widths).products[0]
    keys = {"overlap": "4 %", "package": "220 gal", "price": "2.40 USD/gal"}
    tank = {"product": "Liquid A", "size": "1000 gal"}
    full = ledger(product(**keys), rates, widths, tank=tank).products[0]
    for name in ("rows", "row_of", "total_wanted", "changed_by_limits", "total_given", "to_buy", "geodesic_area_m2"):
        assert getattr(plain, name) == getattr(full, name)
    assert full.order.prescribed == Fraction(full.total_given)


def test_packages_are_rounded_up_once_and_not_in_each_zone() -> None:
    """Ten zones of 12.1 gal each take 121 gal: 49 packages of 2.5 gal, where each zone alone would take 5, or 50."""
    zones = {f"Z{at}": 11.0 for at in range(10)}
    (found,) = ledger(product(package="2.5 gal"), zones, acres(*[1.1] * 10)).products
    assert float(found.order.needed) == pytest.approx(121)
    assert (found.order.packages, float(found.order.to_order)) == (49, 122.5)


@pytest.mark.source("trade convention for seed units", "S10: 80 000 kernels; 160 ac at 34 000/ac need 68.00 units")
@pytest.mark.parametrize("zones", [1, 2, 3, 7, 16])
def test_a_field_that_takes_whole_units_of_seed(zones: int) -> None:
    """S10: 68 units on 160 ac, in however many zones the areas are added up."""
    rates = {f"Z{at}": 34000.0 for at in range(zones)}
    of = seed(package="unit(80000 seeds)")
    (found,) = ledger(of, rates, acres(*[160 / zones] * zones)).products
    assert found.order.packages == 68


@pytest.mark.parametrize("zones", [1, 3, 7])
def test_a_total_of_whole_loads_is_exactly_that_many(zones: int) -> None:
    """240 ac at 12 gal/ac are 2,880 gal: three loads of 960 gal and no fourth, however the areas are added up."""
    rates = {f"Z{at}": 12.0 for at in range(zones)}
    tank = {"product": "Liquid A", "size": "1000 gal", "keep_back": "40 gal"}
    (found,) = ledger(product(), rates, acres(*[240 / zones] * zones), tank=tank).products
    assert found.loads is not None
    assert (found.loads.whole, found.loads.last, found.loads.count) == (3, 0, 3)


def test_loads_cover_the_ground_that_gets_some() -> None:
    """E16: 60 ac at 9 and 40 ac at 15 gal/ac are 1,140 gal, a mean of 11.4; 1,200 gal would cover 105.26 ac.

    Ground at rate 0 is not part of the mean. Source: algebra, computed apart.
    """
    rates = {"A": 9.0, "B": 15.0, "C": 0.0}
    (found,) = ledger(product(), rates, acres(60, 40, 50), tank={"product": "Liquid A", "size": "1200 gal"}).products
    assert found.loads is not None
    assert found.loads.treated_m2 / ACRE == pytest.approx(100)
    assert found.loads.area_m2(Fraction(1200)) / ACRE == pytest.approx(105.2632, abs=5e-5)
    assert (found.loads.whole, float(found.loads.last)) == (0, pytest.approx(1140))


def test_overlap_raises_the_loads() -> None:
    """2,880 gal with 4 % are 2,995.2: a fourth load of 115.2 gal, and each load covers less true ground."""
    tank = {"product": "Liquid A", "size": "1000 gal", "keep_back": "40 gal"}
    (found,) = ledger(product(overlap="4 %"), {"A": 12.0}, acres(240), tank=tank).products
    assert found.loads is not None
    assert (found.loads.whole, float(found.loads.last)) == (3, pytest.approx(115.2))
    assert found.loads.area_m2(found.loads.each) / ACRE == pytest.approx(960 / (12 * 1.04))


def test_a_product_that_goes_nowhere() -> None:
    """Nothing is ordered, nothing loaded, and it costs nothing."""
    keys = {"overlap": "4 %", "package": "220 gal", "price": "2.40 USD/gal"}
    (found,) = ledger(product(**keys), {"A": 0.0}, acres(10), tank={"product": "Liquid A", "size": "1000 gal"}).products
    assert (found.order.packages, found.order.to_order, found.order.cost(found.order.to_order)) == (0, 0, 0)
    assert found.loads is not None
    assert (found.loads.fills, found.loads.stays) == ((), 0)


def test_the_lines_of_the_table_add_up() -> None:
    """Total, overlap and packages are what is ordered, in gallons and in money; zones are the total."""
    of = product(overlap="4 %", package="220 gal", price="412 USD/short_ton", density="11.06 lb/gal")
    tank = {"product": "Liquid A", "size": "1000 gal", "keep_back": "40 gal"}
    found = lines(ledger(of, {"A": 12.0, "B": 18.0}, acres(40, 60), tank=tank))
    by_line = {str(one["line"]): one for one in found if one["line"] != "zone"}
    for column in ("amount_given", "cost"):
        parts = [by_line[name][column] for name in ("total", "overlap", "whole packages")]
        assert fsum(parts) == pytest.approx(by_line["to have"][column], rel=1e-12)  # type: ignore[arg-type]
        zones = [one[column] for one in found if one["line"] == "zone"]
        assert fsum(zones) == pytest.approx(by_line["total"][column], rel=1e-12)  # type: ignore[arg-type]
    # 40 x 12 + 60 x 18 = 1,560 gal; x 1.04 = 1,622.4; 8 totes of 220 gal = 1,760 gal; x 2.27836 USD = 4,009.9136 USD.
    assert by_line["to have"]["amount_given"] == 1760
    assert by_line["to have"]["cost"] == pytest.approx(4009.9136, abs=1e-9)
    assert {one["currency"] for one in found if one["cost"] is not None} == {"USD"}


def test_loads_are_lines_of_the_table() -> None:
    """Number, what a load puts out, and the ground that it covers; together the ground that gets some."""
    tank = {"product": "Liquid A", "size": "1000 gal", "keep_back": "40 gal"}
    found = lines(ledger(product(), {"A": 12.0}, acres(250), tank=tank))
    loads = [one for one in found if one["line"] == "load"]
    assert [(one["why"], one["amount_given"]) for one in loads] == [
        ("1 to 3, each", 960.0),
        ("4", pytest.approx(120)),
    ]
    assert [one["geodesic_ac"] for one in loads] == [pytest.approx(80), pytest.approx(10)]


def test_a_plan_that_says_nothing_has_no_such_lines() -> None:
    """The table is as it was; cost and currency stay empty."""
    found = lines(ledger(granular(), {"A": 60.0}, [HA / 100]))
    assert {"overlap", "whole packages", "to have", "load"}.isdisjoint(str(one["line"]) for one in found)
    assert all(one["cost"] is None and one["currency"] is None for one in found)
