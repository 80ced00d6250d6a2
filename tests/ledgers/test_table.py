"""The ledger as a table: lines that close, in acres and hectares."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum

import pytest
from support_products import granular, product
from support_zone_maps import HA, borders_of, plan_of, wanted_of, zone_map

from vrx.ledgers.build import ledger_of
from vrx.ledgers.table import HEADER, table_of
from vrx.model.prescription import Prescription
from vrx.rates.rated import rate_product
from vrx.units import Acre

Line = dict[str, object]


def lines(acre: Acre = "international") -> list[Line]:
    """A dry product with a thin strip of B, a keep-out and a rate above its limits, and a liquid one."""
    drawn = zone_map("A B C A K!0", widths=[100, 5, 100, 100, 100], keep_outs=[()])
    dry, wet = granular(), product()
    maps = [
        rate_product(drawn, borders_of(drawn), wanted_of(drawn, **rates), of, plan_of(of, **plan), no_data="refuse").map
        for of, rates, plan in (
            (dry, {"A": 61, "B": 90, "C": 240, "K": 60}, {"machine": {"width": "18 m"}}),
            (wet, {"A": 10, "B": 0, "C": 20, "K": 10}, {}),
        )
    ]
    made = Prescription(zone_map=drawn, maps=tuple(maps), findings=())
    rows = list(table_of(ledger_of(made, field="Vlei", system="metric"), acre=acre))
    assert all(len(row) == len(HEADER) for row in rows)
    return [dict(zip(HEADER, row, strict=True)) for row in rows]


def of_line(found: Sequence[Line], line: str, of: str | None = None) -> list[Line]:
    return [one for one in found if one["line"] == line and one["product"] == of]


def number(value: object) -> float:
    assert isinstance(value, int | float)
    return float(value)


@pytest.mark.parametrize("of", ["Granular B", "Liquid A"])
def test_every_column_of_a_product_closes(of: str) -> None:
    """Areas and amounts of the zone lines add up to the total; the lines below it explain the difference."""
    found = lines()
    zones, (total,) = of_line(found, "zone", of), of_line(found, "total", of)
    columns = [name for name in HEADER if name.startswith(("geodesic_", "grid_"))]
    columns += ["amount_wanted", "amount_after_limits", "amount_given"]
    for name in columns:
        assert fsum(number(row[name]) for row in zones) == pytest.approx(number(total[name]), rel=1e-12), name
    (limits,), (joining,) = of_line(found, "changed by limits", of), of_line(found, "changed by joining", of)
    after_limits = number(total["amount_wanted"]) + number(limits["amount_after_limits"])
    assert after_limits == pytest.approx(number(total["amount_after_limits"]), rel=1e-12)
    given = number(total["amount_after_limits"]) + number(joining["amount_given"])
    assert given == pytest.approx(number(total["amount_given"]), rel=1e-12)


def test_the_field_closes() -> None:
    """Ground to treat and keep-outs make up the boundary."""
    found = lines()
    (kept,), (treat,), (whole,) = (of_line(found, line) for line in ("keep-outs", "ground to treat", "boundary"))
    assert number(kept["geodesic_m2"]) == HA
    assert number(treat["geodesic_m2"]) + number(kept["geodesic_m2"]) == number(whole["geodesic_m2"]) == 40500


def test_what_limits_and_joining_changed() -> None:
    """61 to 60 on 2 ha and 240 to 200 on 1 ha: 42 kg less; the strip of 0.05 ha from 90 to 60 or 200."""
    found = lines()
    (limits,) = of_line(found, "changed by limits", "Granular B")
    (joining,) = of_line(found, "changed by joining", "Granular B")
    assert number(limits["amount_after_limits"]) == pytest.approx(-42)
    assert number(joining["amount_given"]) == pytest.approx(-1.5)  # a tie of borders: A was cut first
    assert (limits["geodesic_m2"], joining["amount_wanted"]) == (None, None)


@pytest.mark.source("NIST SP 811 (2008)", "appendix B.6: the acre of the US survey foot; Handbook 44: 43 560 ft2")
@pytest.mark.parametrize(
    ("acre", "m2"),
    [
        pytest.param("international", 4046.8564224, id="the acre of the foot of 0.3048 m"),
        pytest.param("us_survey", 43560 * (1200 / 3937) ** 2, id="the acre of the foot of 1200/3937 m"),
    ],
)
def test_acres_and_hectares(acre: Acre, m2: float) -> None:
    """Every area stands in m2, in the plan's acre and in hectares; the survey acre is 4 millionths larger."""
    for row in lines(acre):
        for kind in ("geodesic", "grid"):
            if row[f"{kind}_m2"] is not None:
                area = number(row[f"{kind}_m2"])
                assert number(row[f"{kind}_ac"]) == pytest.approx(area / m2, rel=1e-12)
                assert number(row[f"{kind}_ha"]) == pytest.approx(area / 1e4, rel=1e-12)


def test_what_to_buy_stands_below() -> None:
    """A line a unit, each with its own name; the first is the plan's."""
    found = of_line(lines(), "in other units", "Granular B")
    assert [row["amount_unit"] for row in found] == ["kg", "tonne", "lb", "short ton"]
    assert number(found[1]["amount_given"]) == pytest.approx(number(found[0]["amount_given"]) / 1000)
