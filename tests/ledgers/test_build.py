"""The ledger: rows that add up, areas that close, and amounts that people can buy."""

from __future__ import annotations

from math import fsum, isnan

import numpy as np
import pytest
from hypothesis import given as drawn_by
from hypothesis import strategies as st
from support_products import granular, product, seed
from support_zone_maps import GRID_SCALE, HA, borders_of, plan_of, wanted_of, zone_map

from vrx.ledgers.build import ledger_of
from vrx.model.layer import Numbers
from vrx.model.ledger import Ledger
from vrx.model.prescription import Prescription
from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap
from vrx.rates.rated import rate_product
from vrx.rates.wanted import by_breaks
from vrx.units import ACRE_M2, System, parse_measure

ACRE = float(ACRE_M2)
KG_60 = parse_measure("60 kg/ha", kinds=("mass/area",))
AMOUNTS = ("amount_wanted", "amount_limited", "amount_given")


def ledger(
    drawn: ZoneMap, *rated: tuple[Product, dict[str, float | None]], units: System = "metric", **plan: object
) -> Ledger:
    """Rate products and account for them; a zone without a rate is off."""
    maps = []
    for of, rates in rated:
        wanted, made = wanted_of(drawn, **rates), plan_of(of, units=units, **plan)
        maps.append(rate_product(drawn, borders_of(drawn), wanted, of, made, no_data="off").map)
    return ledger_of(Prescription(zone_map=drawn, maps=tuple(maps), findings=()), field="Vlei", system=units)


@pytest.mark.source("computed apart from the project", "N05: zones of 40, 60 and 20 ac at 151, 178 and 122 lb/ac")
def test_budget_after_snapping() -> None:
    """N05: 151, 178 and 122 lb/ac at steps of 5 give 150, 180 and 120: 19,200 lb in place of 19,160."""
    drawn = zone_map("A B C", widths=[40 * ACRE / 100, 60 * ACRE / 100, 20 * ACRE / 100])
    dry = granular(min="50 lb/ac", max="300 lb/ac", step="5 lb/ac")
    (found,) = ledger(drawn, (dry, {"A": 151, "B": 178, "C": 122}), units="us").products
    assert [(row.zone, float(row.given)) for row in found.rows] == [("A", 150), ("B", 180), ("C", 120)]
    assert found.total_wanted == pytest.approx(19160, rel=1e-12)
    assert found.total_given == pytest.approx(19200, rel=1e-12)
    assert found.changed_by_limits == pytest.approx(40, rel=1e-9)
    assert found.changed_by_joining == 0
    assert found.changed_by_limits / found.total_wanted == pytest.approx(0.00209, abs=5e-6)
    assert (found.unit, found.total_unit) == ("lb/ac", "lb")
    assert dict(found.to_buy)["short ton"] == pytest.approx(9.6, rel=1e-12)


@pytest.mark.source("acres per tank; trade conventions for seed units", "E16, S10, S11, S12; computed apart")
@pytest.mark.parametrize(
    ("of", "rate", "acres", "unit", "amount", "tolerance"),
    [
        pytest.param(product(), 15, 80, "gal", 1200, 1e-9, id="E16: 80 ac at 15 gal/ac is a tank of 1200 gal"),
        pytest.param(product(), 10, 120, "gal", 1200, 1e-9, id="E16: 120 ac at 10 gal/ac too"),
        pytest.param(
            product(min="1 qt/ac", max="9 qt/ac", step="0.5 qt/ac"), 1.5, 80, "gal", 30, 1e-9, id="E17: 120 qt, 30 gal"
        ),
        pytest.param(seed(), 34000, 160, "seeds", 68 * 80000, 1e-6, id="S10: 160 ac at 34000 take 68 units of 80000"),
        pytest.param(
            seed(min="0.1 unit(80000 seeds)/ac", max="1 unit(80000 seeds)/ac", step="0.025 unit(80000 seeds)/ac"),
            0.425, 160, "unit(80000 seeds)", 68.0, 1e-9, id="S10: counted in units",
        ),
        pytest.param(
            seed(min="50000 seeds/ac", max="200000 seeds/ac", seeds_per="2800 seeds/lb"),
            125000, 80, "seeds", 71.429 * 140000, 0.0005 * 140000, id="S11: 80 ac need 71.429 units of 140000",
        ),
        pytest.param(
            seed(min="50000 seeds/ac", max="200000 seeds/ac", seeds_per="2800 seeds/lb"),
            140000, 1, "lb", 50.0, 1e-9, id="S12: 140000 seeds of 2800 a pound weigh 50 lb",
        ),
    ],
)  # fmt: skip
def test_amounts_to_buy(of: Product, rate: float, acres: float, unit: str, amount: float, tolerance: float) -> None:
    """The total in other units is what the handbook's sum gives."""
    drawn = zone_map("A", widths=[acres * ACRE / 100])
    (found,) = ledger(drawn, (of, {"A": rate}), units="us").products
    assert dict(found.to_buy)[unit] == pytest.approx(amount, abs=tolerance)


def test_the_plan_s_system_comes_first() -> None:
    """The same pass in both systems: the same amounts, pounds first in one and kilograms first in the other."""
    drawn = zone_map("A B")
    (us,) = ledger(drawn, (granular(), {"A": 60, "B": 90}), units="us").products
    (metric,) = ledger(drawn, (granular(), {"A": 60, "B": 90}), units="metric").products
    assert (us.to_buy[0][0], metric.to_buy[0][0]) == ("lb", "kg")
    assert dict(us.to_buy)["kg"] == dict(metric.to_buy)["kg"] == 150
    assert us.total_given == metric.total_given == 150


def test_rows_are_zones_in_natural_order() -> None:
    """Zone 9 comes before zone 10; polygons of one zone with the same rates are one row."""
    drawn = zone_map("P10 P9 Q9", names={"P10": "zone 10", "P9": "zone 9", "Q9": "zone 9"})
    (found,) = ledger(drawn, (granular(), {"zone 10": 60, "zone 9": 90})).products
    assert [(row.zone, row.geodesic_area_m2) for row in found.rows] == [("zone 9", 2 * HA), ("zone 10", HA)]


def test_capitals_do_not_part_zones() -> None:
    """Names are ordered as people order them: B9 between a9 and c9, whatever their case."""
    (found,) = ledger(zone_map("c9 B9 a9 B10"), (granular(), {"c9": 60, "B9": 60, "a9": 60, "B10": 60})).products
    assert [row.zone for row in found.rows] == ["a9", "B9", "B10", "c9"]


def test_a_zone_with_the_name_of_an_overlap_has_its_own_row() -> None:
    """One hectare of the overlap of A and B, and two of a zone that is called A+B, all at 60 kg/ha."""
    drawn = zone_map("A A+B B P P", names={"P": "A+B"})
    (found,) = ledger(drawn, (granular(), {"A": 60, "B": 60, "A+B": 60})).products
    assert {row.zone: row.geodesic_area_m2 / HA for row in found.rows} == {
        "A": 1,
        "B": 1,
        "A+B": 2,
        "A+B (overlap)": 1,
    }


def test_a_zone_is_split_where_its_rates_differ() -> None:
    """A part of B that joined A stands in a row of its own, with the reason."""
    drawn = zone_map("B A B A", widths=[100, 100, 5, 100])
    (found,) = ledger(drawn, (granular(), {"A": 60, "B": 90}), machine={"width": "18 m"}).products
    assert [(row.zone, float(row.given), row.geodesic_area_m2) for row in found.rows] == [
        ("A", 60, 2 * HA),
        ("B", 90, HA),
        ("B", 60, 500),
    ]
    assert "joined to its neighbour at 60 kg/ha" in found.rows[2].why
    assert (found.changed_by_limits, found.changed_by_joining) == (0, pytest.approx(-1.5))
    assert found.total_given == pytest.approx(211.5 + 1.5 - 0.0)
    assert found.total_wanted == pytest.approx(120 + 94.5)


def test_zones_without_a_rate_stand_in_one_row() -> None:
    """A missing rate is neither a saving nor a cost: the given one stands in for it in the totals."""
    drawn = zone_map("A B1 B2", names={"B1": "B", "B2": "B"})
    (found,) = ledger(drawn, (granular(), {"A": 60, "B": None})).products
    assert isnan(found.rows[1].wanted)
    assert found.rows[1].geodesic_area_m2 == 2 * HA
    assert (found.total_wanted, found.total_given, found.changed_by_limits) == (60, 60, 0)


def test_the_default_stands_in_for_a_missing_rate() -> None:
    """45 kg/ha by default where no rate is known: wanted and given alike, so that limits change nothing."""
    drawn, of = zone_map("A B"), granular(default="45 kg/ha")
    wanted = wanted_of(drawn, A=60, B=None)
    rated = rate_product(drawn, borders_of(drawn), wanted, of, plan_of(of), no_data="default")
    found = ledger_of(Prescription(zone_map=drawn, maps=(rated.map,), findings=()), field="Vlei", system="metric")
    (account,) = found.products
    assert isnan(account.rows[1].wanted)
    assert (account.total_wanted, account.changed_by_limits, account.total_given) == (105, 0, 105)


def test_a_rate_below_0_is_no_need() -> None:
    """A wants 100 kg on its hectare, B -80: 100 kg are wanted and given, and B's row still says -80."""
    (found,) = ledger(zone_map("A B"), (granular(), {"A": 100, "B": -80})).products
    assert (found.total_wanted, found.changed_by_limits, found.total_given) == pytest.approx((100, 0, 100))
    assert [(row.wanted, row.amount_wanted) for row in found.rows] == [(100, pytest.approx(100)), (-80, 0)]


def test_joining_is_no_change_by_limits_where_a_rate_is_missing() -> None:
    """500 m2 without a rate get 45 kg/ha by default and then 60 with their neighbour: joining put 0.75 kg more."""
    drawn, of = zone_map("A B A", widths=[100, 5, 100]), granular(default="45 kg/ha")
    wanted, plan = wanted_of(drawn, A=60, B=None), plan_of(of, machine={"width": "18 m"})
    rated = rate_product(drawn, borders_of(drawn), wanted, of, plan, no_data="default")
    found = ledger_of(Prescription(zone_map=drawn, maps=(rated.map,), findings=()), field="Vlei", system="metric")
    (account,) = found.products
    assert (account.changed_by_limits, account.changed_by_joining) == (0, pytest.approx(0.75))
    assert (account.total_wanted, account.total_given) == (pytest.approx(122.25), pytest.approx(123))


def test_keep_outs_carry_no_acres() -> None:
    """Each product counts its own ground; the field's keep-outs are those that bind every product."""
    drawn = zone_map("A A!0 A!1 A!2", keep_outs=[("Granular B",), (), ("Other",)])
    other = granular(name="Other")
    found = ledger(drawn, (granular(), {"A": 60}), (other, {"A": 90}))
    first, second = found.products
    assert (first.geodesic_area_m2, first.keep_out_area_m2, first.total_given) == (2 * HA, 2 * HA, 120)
    assert (second.geodesic_area_m2, second.keep_out_area_m2, second.total_given) == (2 * HA, 2 * HA, 180)
    assert (found.boundary_area_m2, found.keep_out_area_m2, found.geodesic_area_m2) == (4 * HA, HA, 3 * HA)
    assert found.grid_area_m2 == pytest.approx(3 * HA * GRID_SCALE)


def test_grid_areas_stand_beside_the_true_ones() -> None:
    """Both of every row; amounts follow the true ground."""
    found = ledger(zone_map("A B"), (granular(), {"A": 60, "B": 90}))
    (account,) = found.products
    for row in account.rows:
        assert row.grid_area_m2 == pytest.approx(row.geodesic_area_m2 * GRID_SCALE)
    assert account.total_given == 150
    assert (found.grid_area_m2, found.grid_crs) == (pytest.approx(2 * HA * GRID_SCALE), "EPSG:32734")


RATES = st.one_of(st.none(), st.sampled_from([0.0, -4.0, 14.0, 29.0, 240.0]), st.floats(0, 300))
WIDTHS = st.lists(st.floats(1, 900), min_size=5, max_size=5)


@drawn_by(widths=WIDTHS, rates=st.lists(RATES, min_size=3, max_size=3))
def test_everything_adds_up(widths: list[float], rates: list[float | None]) -> None:
    """Totals are sums of rows; wanted + limits + joining = given; zone areas are the ground to treat."""
    drawn = zone_map("A A+B!0 B . C", widths=widths, keep_outs=[()])
    table = dict(zip("ABC", rates, strict=True))
    found = ledger(drawn, (granular(), table), machine={"width": "24 m"}, smallest_area="1500 m2")
    (account,) = found.products
    rows = account.rows
    scale = max(1.0, abs(account.total_wanted))
    for total, name in ((account.total_wanted, AMOUNTS[0]), (account.total_given, AMOUNTS[2])):
        assert total == pytest.approx(fsum(getattr(row, name) for row in rows), abs=1e-9 * scale)
    summed = account.total_wanted + account.changed_by_limits + account.changed_by_joining
    assert summed == pytest.approx(account.total_given, abs=1e-9 * scale)
    for row in rows:
        assert row.amount_given == pytest.approx(float(row.given) * row.geodesic_area_m2 / HA, rel=1e-12)
    ground = fsum(drawn.area_m2[drawn.treated("Granular B")])
    assert fsum(row.geodesic_area_m2 for row in rows) == pytest.approx(ground, rel=1e-6)
    assert account.geodesic_area_m2 == pytest.approx(found.geodesic_area_m2, rel=1e-9)
    assert account.geodesic_area_m2 + account.keep_out_area_m2 == pytest.approx(found.boundary_area_m2, rel=1e-9)
    assert np.isfinite([getattr(row, name) for row in rows for name in AMOUNTS]).all()


def test_every_treated_piece_has_its_row() -> None:
    """Areas of the pieces by row are the areas of the rows; a keep-out is in none."""
    drawn = zone_map("B A A!0 .", keep_outs=[[]])
    (found,) = ledger(drawn, (granular(), {"A": 60, "B": 80})).products
    assert found.row_of[2] == -1
    row_of = np.array(found.row_of)
    kept = row_of >= 0
    areas = np.bincount(row_of[kept], weights=drawn.area_m2[kept])
    assert areas.tolist() == [row.geodesic_area_m2 for row in found.rows]
    assert [found.rows[row].zone for row in row_of[kept]] == ["B", "A", "(no zone)"]


def test_a_row_names_what_its_rate_was_worked_out_from() -> None:
    """Two polygons of a class with other numbers are one row that names both, in their order."""
    drawn = zone_map("A1 A2 A3", names={"A1": "A", "A2": "A", "A3": "A"})
    breaks = by_breaks(Numbers(name="om", values=np.array([10.0, 9.5, 9.5])), [2], [KG_60, KG_60], granular())
    rated = rate_product(drawn, borders_of(drawn), breaks, granular(), plan_of(granular()), no_data="off")
    made = ledger_of(Prescription(zone_map=drawn, maps=(rated.map,), findings=()), field="Vlei", system="metric")
    assert [row.inputs for row in made.products[0].rows] == [("om 9.5", "om 10")]
    assert rated.map.values.tolist() == [10.0, 9.5, 9.5]
