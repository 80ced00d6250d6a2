"""One wanted rate for every piece: overlaps, gaps and zones of several polygons."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support_products import granular
from support_zone_maps import HA, wanted_of, zone_map

from vrx.model.plan import NoData, Overlaps
from vrx.model.zone_map import ZoneMap
from vrx.rates.settle import Settled, settle


def settled(drawn: ZoneMap, rule: Overlaps | None = None, **rates: float | None) -> Settled:
    return settle(drawn, wanted_of(drawn, **rates).rates, granular(), rule=rule)


def overlapping(width_m: float) -> ZoneMap:
    """A field of 1000 m x 100 m, zones A and B, that overlap over so many metres."""
    return zone_map("A A+B B", widths=[500 - width_m / 2, width_m, 500 - width_m / 2])


def test_a_zone_of_several_polygons_has_the_rate_of_each() -> None:
    """Polygons of one zone may want different rates; the zone's name stays on both."""
    drawn = zone_map("A1 B A2", names={"A1": "A", "A2": "A"})
    found = settle(drawn, np.array([60.0, 80.0, 65.0]), granular(), rule=None)
    assert found.wanted.tolist() == [60, 80, 65]
    assert found.zones == ("A", "B", "A")


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        pytest.param("first", 90, id="first in the file"),
        pytest.param("lowest", 60, id="lowest"),
        pytest.param("highest", 120, id="highest"),
    ],
)
def test_a_rule_decides_an_overlap(rule: Overlaps, expected: float) -> None:
    """B (90), A (60) and C (120) overlap on one hectare; ground beside it keeps its own rate."""
    drawn = zone_map("B B+A+C A C")
    found = settled(drawn, rule, A=60, B=90, C=120)
    assert found.wanted.tolist() == [90, expected, 60, 120]
    assert found.zones[1] == "A+B+C"
    assert found.notes == {1: f"zones overlap: the {rule} rate taken"}
    (finding,) = found.findings
    assert (finding.id, finding.severity, finding.area_m2) == ("overlap", "note", HA)
    assert "60, 90, 120 kg/ha" in finding.message
    assert finding.features == (1, 2, 3)


def test_rates_are_listed_from_low_to_high() -> None:
    """85 comes before 115, as numbers go and not as letters do."""
    (finding,) = settled(zone_map("A A+B B"), "lowest", A=115, B=85).findings
    assert "(85, 115 kg/ha)" in finding.message


def test_an_overlap_has_a_name_of_its_own() -> None:
    """No zone whose name has a plus in it can be taken for an overlap, nor one overlap for another."""
    drawn = zone_map("A A+B B P A+Q C+P", names={"P": "A+B", "Q": "B+C"})
    assert [drawn.zone_of(piece) for piece in range(6)] == [
        "A", "A+B (overlap)", "B", "A+B", "A+(B+C)", "(A+B)+C",
    ]  # fmt: skip
    found = settle(drawn, np.array([60.0, 90.0, 70.0, 80.0, 100.0]), granular(), rule="lowest")
    assert {"zones A and B overlap", "zones A and B+C overlap", "zones A+B and C overlap"} == {
        one.message.partition(": ")[2].partition(" on ")[0] for one in found.findings
    }


def test_refuse_stops() -> None:
    """The finding says where, how much and how to settle it."""
    (finding,) = settled(zone_map("A A+B B"), "refuse", A=60, B=90).findings
    assert (finding.id, finding.severity) == ("overlap", "stop")
    assert "A and B overlap on 1.0000 ha" in finding.message
    assert 'overlaps = "first"' in finding.remedy
    assert finding.where is not None
    assert finding.where.contains(finding.where.centroid)


@pytest.mark.parametrize("rule", ["refuse", "first", "lowest", "highest", None])
def test_the_same_rate_is_no_matter(rule: Overlaps | None) -> None:
    """Zones that overlap and want the same are not mentioned, however large the overlap."""
    found = settled(zone_map("A A+B B"), rule, A=60, B=60)
    assert found.wanted.tolist() == [60, 60, 60]
    assert found.findings == ()
    assert found.notes == {}


@pytest.mark.parametrize("rule", ["refuse", "first", "lowest", "highest", None])
@pytest.mark.parametrize(
    ("a", "b"),
    [
        pytest.param(99, 101, id="both 100 in steps of 5"),
        pytest.param(250, 300, id="both lowered to 200"),
        pytest.param(-5, 0, id="both off"),
    ],
)
def test_what_gets_the_same_rate_is_no_matter(a: float, b: float, rule: Overlaps | None) -> None:
    """Limits and steps decide whether rates differ; the plan's rule still says which wanted one is accounted for."""
    found = settled(zone_map("A A+B B"), rule, A=b, B=a)
    assert (found.findings, found.notes) == ((), {})
    assert found.wanted.tolist() == [b, b if rule in ("first", "highest") else a, a]


def test_rates_that_are_refused_do_not_agree() -> None:
    """A missing rate is off by its number alone: beside a zone that wants 0 it still differs."""
    (finding,) = settled(zone_map("A A+B B"), A=None, B=0).findings
    assert finding.severity == "stop"


@pytest.mark.parametrize(
    ("width_m", "severity"),
    [
        pytest.param(0.999, "note", id="just below 0.1 % of the field"),
        pytest.param(1.001, "stop", id="just above"),
    ],
)
def test_small_overlaps_are_settled_unasked(width_m: float, severity: str) -> None:
    """Unless said: up to 0.1 % of the field the lowest holds and is noted, above a person decides."""
    found = settled(overlapping(width_m), A=90, B=60)
    (finding,) = found.findings
    assert finding.severity == severity
    if severity == "note":
        assert found.wanted.tolist() == [90, 60, 60]


def test_small_overlaps_count_together() -> None:
    """Two overlaps of 0.06 % each are more than 0.1 %."""
    drawn = zone_map("A A+B B B+C C", widths=[332.4, 0.6, 332.8, 0.6, 333.6])
    assert {one.severity for one in settled(drawn, A=60, B=90, C=120).findings} == {"stop"}
    # Where A and B agree, only one of them counts.
    assert {one.severity for one in settled(drawn, A=60, B=60, C=120).findings} == {"note"}


def test_each_product_is_decided_for_itself() -> None:
    """Zones that agree on one product and not on the other stop the other alone."""
    drawn = zone_map("A A+B B")
    assert settled(drawn, A=60, B=60).findings == ()
    assert settled(drawn, A=60, B=90).findings[0].severity == "stop"


def test_an_overlap_inside_a_keep_out_does_not_count() -> None:
    """Ground on which the product may not go needs no rate."""
    assert settled(zone_map("A A+B!0 B", keep_outs=[()]), A=60, B=90).findings == ()
    assert settled(zone_map("A A+B!0 B", keep_outs=[("Other",)]), A=60, B=90).findings != ()


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        pytest.param("first", None, id="the first has none"),
        pytest.param("lowest", 90, id="the lowest that is known"),
        pytest.param("highest", 90, id="the highest that is known"),
    ],
)
def test_a_missing_rate_under_an_overlap(rule: Overlaps, expected: float | None) -> None:
    """A missing rate is neither the lowest nor the highest; it differs from a number, and is told as none."""
    found = settled(zone_map("A A+B B"), rule, A=None, B=90)
    assert np.isnan(found.wanted[1]) if expected is None else found.wanted[1] == expected
    assert "(90, none kg/ha)" in found.findings[0].message


def test_two_missing_rates_agree() -> None:
    """Nothing to decide where neither zone has a rate: the missing rate itself is what is told."""
    found = settled(zone_map("A A+B B"), A=None, B=None)
    assert found.findings == ()
    assert np.isnan(found.wanted).all()


def test_a_rate_of_zero_is_the_lowest() -> None:
    """0 is a rate, not a missing value."""
    assert settled(zone_map("A A+B B"), "lowest", A=0, B=90).wanted.tolist() == [0, 0, 90]


# --- gaps


def test_a_small_gap_goes_to_the_longest_border() -> None:
    """The gap between A (100 m of border) and B (20 m) is A's ground from now on."""
    drawn = zone_map("A . B", "A B B", heights=[20, 100], widths=[100, 10, 100], fill=True)
    assert drawn.fills == {1: (0, 2, 4)}  # 20 m to A, 20 m to B, 10 m to B
    found = settled(drawn, A=60, B=90)
    assert (found.wanted[1], found.zones[1], bool(found.gap[1])) == (60, "A", False)


@pytest.mark.parametrize(
    ("rate", "keys"),
    [
        pytest.param(0, {}, id="0"),
        pytest.param(-5, {}, id="below 0, no need"),
        pytest.param(20, {"below_min": "off"}, id="below the minimum, off"),
        pytest.param(14, {"below_min": "half"}, id="below half of the minimum, off"),
    ],
)
def test_a_small_gap_goes_to_treated_ground(rate: float, keys: dict[str, str]) -> None:
    """A has the longer border and is off; the gap joins B, so that ground at rate 0 stays as it was drawn."""
    drawn = zone_map("A . B", "A A A", widths=[100, 10, 100], fill=True)
    assert drawn.fills[1][0] == 0
    wanted = wanted_of(drawn, A=rate, B=90).rates
    found = settle(drawn, wanted, granular(**keys), rule=None)
    assert (found.wanted[1], found.zones[1]) == (90, "B")


@pytest.mark.parametrize(
    ("no_data", "zone"),
    [
        pytest.param("default", "B", id="gets the default: it is treated"),
        pytest.param("off", "A", id="is off, as A is"),
    ],
)
def test_a_small_gap_beside_ground_without_a_rate(no_data: NoData, zone: str) -> None:
    """A has the longer border and rate 0; B has no rate, and counts as what it will get."""
    drawn = zone_map("A . B", "A A A", widths=[100, 10, 100], fill=True)
    wanted = wanted_of(drawn, A=0, B=None).rates
    found = settle(drawn, wanted, granular(default="45 kg/ha"), rule=None, no_data=no_data)
    assert found.zones[1] == zone


def test_a_small_gap_amid_ground_at_rate_0_is_off() -> None:
    """Nothing is put where every neighbour gets nothing."""
    found = settled(zone_map("A . A", widths=[100, 10, 100], fill=True), A=0)
    assert (found.wanted[1], found.zones[1]) == (0, "A")


def test_a_large_gap_stays_a_gap() -> None:
    """No neighbour takes it in: it has no zone, and no wanted rate."""
    found = settled(zone_map("A . B"), A=60, B=90)
    assert found.gap.tolist() == [False, True, False]
    assert np.isnan(found.wanted[1])
    assert found.zones[1] == "(no zone)"


@given(
    rates=st.lists(st.sampled_from([0.0, 30.0, 60.0, 200.0, np.nan]), min_size=3, max_size=3),
    rule=st.sampled_from(["refuse", "first", "lowest", "highest", None]),
)
def test_an_overlap_gets_a_rate_that_one_of_its_zones_wants(rates: list[float], rule: Overlaps | None) -> None:
    """No rule invents a rate, none touches ground beside the overlap, and a number beats a missing one."""
    drawn = zone_map("A A+B B", "A+B+C B+C C")
    found = settle(drawn, np.array(rates), granular(), rule=rule)
    for piece, cover in enumerate(drawn.covers):
        own = [rates[one] for one in cover]
        assert np.isnan(found.wanted[piece]) or found.wanted[piece] in own
        if len(cover) == 1:
            assert np.array_equal(found.wanted[piece], own[0], equal_nan=True)
        if rule in ("lowest", "highest") and not np.isnan(own).all():
            pick = np.nanmin if rule == "lowest" else np.nanmax
            assert found.wanted[piece] == pick(own)


def test_many_overlaps_are_told_together() -> None:
    """The twelve largest pairs each, all others in one finding: none of the ground is left out."""
    names = [f"Z{at}" for at in range(21)]
    cells = [cell for at, name in enumerate(names[:-1]) for cell in (name, f"{name}+{names[at + 1]}")] + [names[-1]]
    widths = [100.0 if at % 2 == 0 else 1.0 + at / 10 for at in range(len(cells))]
    drawn = zone_map(" ".join(cells), widths=widths)
    rates = {name: 60.0 + 5 * at for at, name in enumerate(names)}
    found = settled(drawn, "lowest", **rates).findings
    assert len(found) == 13
    assert "zones overlap and want different rates in 8 more places" in found[-1].message
    assert sum(one.area_m2 or 0 for one in found) == pytest.approx(drawn.area_m2[1::2].sum())
    assert "zones Z19 and Z20 overlap" in found[0].message


def test_every_piece_knows_the_polygon_whose_rate_it_has() -> None:
    """Of an overlap the polygon that was chosen, of a small gap the neighbour that took it, of a large one none."""
    drawn = zone_map("A A+B B .")
    assert settled(drawn, "lowest", A=90, B=60).source.tolist() == [0, 1, 1, -1]
    assert settled(drawn, "highest", A=90, B=60).source.tolist() == [0, 0, 1, -1]
    assert settled(zone_map("A . B", fill=True), A=90, B=60).source.tolist() == [0, 0, 1]
