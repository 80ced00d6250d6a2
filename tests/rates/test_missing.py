"""Zones without a rate: what they get, and how it is told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support_products import granular
from support_zone_maps import HA, borders_of, plan_of, wanted_of, zone_map

from vrx.model.finding import Finding
from vrx.model.layer import BadCell
from vrx.model.plan import NoData
from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap
from vrx.rates.rated import Rated, rate_product
from vrx.rates.wanted import Wanted


def rated(
    drawn: ZoneMap, wanted: Wanted, no_data: NoData = "refuse", product: Product | None = None, **plan: str
) -> Rated:
    of = product or granular(default="45 kg/ha")
    return rate_product(drawn, borders_of(drawn), wanted, of, plan_of(of, **plan), no_data=no_data)


def named(found: Rated, name: str) -> list[Finding]:
    return [one for one in found.findings if one.id == name]


def given(found: Rated) -> list[float]:
    return [float(found.map.product.rate_of(int(number))) for number in found.map.numbers]


@pytest.mark.parametrize(
    ("no_data", "gets", "severity", "words"),
    [
        pytest.param("refuse", 0, "stop", "no rate in zone B, on 2.0000 ha", id="refuse"),
        pytest.param("default", 45, "caution", "the default rate of 45 kg/ha holds", id="default"),
        pytest.param("off", 0, "caution", "nothing is put there", id="off"),
    ],
)
def test_no_data(no_data: NoData, gets: float, severity: str, words: str) -> None:
    """A zone without a value is refused, takes the default, or is off; its polygons are named once."""
    drawn = zone_map("A B1 B2 C", names={"B1": "B", "B2": "B"})
    found = rated(drawn, wanted_of(drawn, A=60, B=None, C=90), no_data)
    assert given(found) == [60, gets, gets, 90]
    (finding,) = named(found, "rate-missing")
    assert (finding.severity, finding.area_m2, finding.features) == (severity, 2 * HA, (2, 3))
    assert words in finding.message


def test_zero_is_a_value() -> None:
    """A zone at 0 is off, with nothing to say about it."""
    drawn = zone_map("A B")
    found = rated(drawn, wanted_of(drawn, A=60, B=0))
    assert given(found) == [60, 0]
    assert found.findings == ()
    assert found.map.why == ("", "")


def test_off_is_no_answer_for_a_product_that_can_not_be_shut_off() -> None:
    """The machine would go on: it is a stop, and the remedy does not offer it."""
    drawn = zone_map("A B")
    steady = granular(off_allowed=False)
    (finding,) = named(rated(drawn, wanted_of(drawn, A=60, B=None), "off", steady), "rate-missing")
    assert finding.severity == "stop"
    assert "can't be shut off" in finding.message
    assert '"off"' not in finding.remedy


@pytest.mark.parametrize(
    ("kind", "text", "name"),
    [
        pytest.param("no-data-code", "-9999", "rate-no-data-code", id="a code"),
        pytest.param("not-a-number", "n/a", "rate-not-a-number", id="words"),
        pytest.param("two-readings", "12,5", "rate-not-a-number", id="a comma"),
    ],
)
def test_what_a_cell_holds_is_shown(kind: str, text: str, name: str) -> None:
    """Text in place of a rate is a stop whatever no_data says; a code for no data follows it."""
    drawn = zone_map("A B")
    bad = (BadCell(index=1, text=text, kind=kind),)  # type: ignore[arg-type]  # the table above says it
    wanted = Wanted(rates=np.array([60, np.nan]), inputs=("60 kg/ha", ""), values=np.full(2, np.nan), bad=bad)
    (finding,) = named(rated(drawn, wanted, "off"), name)
    assert finding.severity == ("caution" if kind == "no-data-code" else "stop")
    assert f"B ({text!r})" in finding.message


def test_zones_outside_the_field_need_no_rate() -> None:
    """A polygon of the layer that covers no piece is not reported, nor one wholly in a keep-out."""
    drawn = zone_map("A B!0", keep_outs=[()])
    drawn = replace(drawn, zone_names=("A", "B", "Far"), records=np.array([1, 2, 3]))
    assert not named(rated(drawn, wanted_of(drawn, A=60, B=None, Far=None)), "rate-missing")


def test_a_zone_is_told_as_the_ledger_tells_it() -> None:
    """Zone 2, whether its layer names it so or it is the second record of a layer that names no zones."""
    drawn = zone_map("1 2")
    (finding,) = named(rated(drawn, wanted_of(drawn, **{"1": 60, "2": None})), "rate-missing")
    assert "no rate in zone 2, on" in finding.message


def test_many_zones_are_counted_after_twelve() -> None:
    """A list that nobody reads to its end is cut, and says how much is left out."""
    names = [f"Z{at}" for at in range(20)]
    drawn = zone_map(" ".join(["A", *names]))
    (finding,) = named(rated(drawn, wanted_of(drawn, A=60, **dict.fromkeys(names))), "rate-missing")
    assert "Z11 and 8 more" in finding.message
    assert len(finding.features) == 20


@pytest.mark.parametrize(
    ("no_data", "area_ha"),
    [
        pytest.param("refuse", 2, id="what stops is reported wherever the zone lies"),
        pytest.param("default", 1, id="the default only where nothing else rates the ground"),
        pytest.param("off", 1, id="off only there too"),
    ],
)
def test_a_zone_without_a_rate_under_another(no_data: NoData, area_ha: float) -> None:
    """B has no rate; A rates the hectare that both cover, by the plan's rule."""
    drawn = zone_map("A A+B B")
    found = rated(drawn, wanted_of(drawn, A=60, B=None), no_data, overlaps="highest")
    assert given(found)[:2] == [60, 60]
    (finding,) = named(found, "rate-missing")
    assert finding.area_m2 == area_ha * HA


@pytest.mark.parametrize("no_data", ["default", "off"])
def test_a_zone_without_a_rate_wholly_under_another(no_data: NoData) -> None:
    """Where the rule finds a rate everywhere, no ground takes the default or is off, and none is said to."""
    drawn = zone_map("A A+B A")
    found = rated(drawn, wanted_of(drawn, A=60, B=None), no_data, overlaps="lowest")
    assert given(found) == [60, 60, 60]
    assert not named(found, "rate-missing")
