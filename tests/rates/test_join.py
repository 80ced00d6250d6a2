"""Joining: parts that the machine can't honour take a neighbour's rate, and nothing else changes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import assume, settings
from hypothesis import given as drawn_by
from hypothesis import strategies as st
from support_products import granular
from support_zone_maps import borders_of, plan_of, wanted_of, zone_map, zone_map_of

from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap
from vrx.rates.join import Joined, join_parts
from vrx.rates.rated import rate_product

FOOT_M = 0.3048
BOOM_M = 90 * FOOT_M


def joined(
    drawn: ZoneMap,
    rates: list[float],
    *,
    smallest_m2: float = 0.0,
    narrowest_m: float | None = None,
    join: bool = True,
    of: Product | None = None,
) -> Joined:
    """Join with a rate for each piece, in steps of 5 kg/ha."""
    numbers = np.array(rates, dtype=np.int64) // 5
    return join_parts(
        drawn, borders_of(drawn), numbers, of or granular(), smallest_m2=smallest_m2, narrowest_m=narrowest_m, join=join
    )


def rates(found: Joined) -> list[int]:
    return (found.numbers * 5).tolist()


def ids(found: Joined) -> list[tuple[str, str]]:
    return [(one.id, one.severity) for one in found.findings]


# --- small parts


@pytest.mark.parametrize(
    ("smallest_m2", "after"),
    [
        pytest.param(999, 90, id="as large as the smallest area and a hair more"),
        pytest.param(1000, 90, id="exactly as large"),
        pytest.param(1001, 60, id="smaller"),
    ],
)
def test_smaller_than_the_smallest_area(smallest_m2: float, after: int) -> None:
    """A part of 1000 m2 stays where that is the smallest area, and joins where it is less."""
    found = joined(zone_map("A B A", widths=[100, 10, 100]), [60, 90, 60], smallest_m2=smallest_m2)
    assert rates(found) == [60, after, 60]
    assert found.joined.tolist() == [False, after == 60, False]


def test_a_part_joins_the_neighbour_with_the_longest_shared_border() -> None:
    """B borders 100 m on A, 10 m on C, and touches D in a corner."""
    drawn = zone_map("A B D", "A C D", widths=[100, 10, 100], heights=[100, 100])
    found = joined(drawn, [60, 90, 150, 60, 120, 150], smallest_m2=1500)
    # B and C (1000 m2 each) lie between A and D, 100 m on each: a tie goes to the piece that was cut first.
    assert rates(found) == [60, 60, 150, 60, 60, 150]
    drawn = zone_map("A B C", "A C C", widths=[100, 10, 100])
    assert rates(joined(drawn, [60, 90, 150, 60, 150, 150], smallest_m2=1500)) == [60, 150, 150, 60, 150, 150]


def test_borders_count_together() -> None:
    """Two pieces of one rate are one neighbour: 60 m + 60 m on B are more than 70 m on A."""
    drawn = zone_map("A X B1", "A X B2", "C X B2", widths=[100, 5, 100], heights=[60, 10, 50])
    before = [60, 120, 90, 60, 120, 90, 150, 120, 90]
    assert rates(joined(drawn, before, smallest_m2=700)) == [60, 90, 90, 60, 90, 90, 150, 90, 90]


def test_equal_neighbours_are_one_part() -> None:
    """Zones of one rate are driven as one: two halves of 800 m2 are not too small for 1500 m2."""
    drawn = zone_map("A B C D", widths=[100, 8, 8, 100])
    assert rates(joined(drawn, [60, 90, 90, 60], smallest_m2=1500)) == [60, 90, 90, 60]
    assert rates(joined(drawn, [60, 90, 120, 60], smallest_m2=1500)) == [60, 60, 60, 60]


def test_parts_that_touch_in_a_corner_are_two() -> None:
    """Ground that hangs together by a point alone can't be driven as one."""
    drawn = zone_map("B A", "A B", widths=[30, 30], heights=[30, 30])
    found = joined(drawn, [90, 60, 60, 90], smallest_m2=1000)
    assert len(set(rates(found))) == 1


def test_a_chain_of_small_parts_ends_in_one_that_fits() -> None:
    """Small parts among themselves: the smallest goes first, and what grew large enough stays."""
    drawn = zone_map("A B C D E", widths=[100, 4, 6, 7, 100])
    found = joined(drawn, [60, 90, 120, 150, 180], smallest_m2=1000)
    left = {(rate, piece) for piece, rate in enumerate(rates(found))}
    assert (60, 0) in left
    assert (180, 4) in left
    parts = borders_of(drawn).components(found.numbers)
    assert np.bincount(parts, weights=drawn.area_m2).min() >= 1000


def test_the_smaller_of_two_small_parts_gives_way() -> None:
    """Each has its longest border, 100 m, on the other: B's 400 m2 take the rate of C's 700 m2, not the reverse."""
    drawn = zone_map("A B C D", "E B C F", widths=[100, 4, 7, 100], heights=[50, 50])
    found = joined(drawn, [60, 90, 120, 150, 65, 90, 120, 155], smallest_m2=1000)
    assert rates(found) == [60, 120, 120, 150, 65, 120, 120, 155]


def test_a_part_that_took_one_in_may_be_large_enough() -> None:
    """B (400 m2) goes to C (450 m2), which has then 850 m2 and no need of D, its own longest border."""
    drawn = zone_map("D C B A", "D C E A", widths=[100, 4.5, 10, 100], heights=[40, 60])
    found = joined(drawn, [150, 120, 90, 60, 150, 120, 180, 60], smallest_m2=500)
    assert rates(found) == [150, 120, 120, 60, 150, 120, 180, 60]


def test_a_part_waits_for_a_neighbour_that_is_joined_itself() -> None:
    """H goes to G; X, which H comes before Y for, then has G beside it, and never takes the rate that H had."""
    drawn = zone_map("G H X Y", widths=[100, 4, 6, 100])
    assert rates(joined(drawn, [60, 90, 120, 90], smallest_m2=1000)) == [60, 60, 60, 90]


def test_a_field_that_is_small_itself_stays() -> None:
    """Without a neighbour there is nothing to join: it is reported."""
    found = joined(zone_map("A", widths=[10]), [60], smallest_m2=5000)
    assert rates(found) == [60]
    assert ids(found) == [("tiny-part", "caution")]
    assert "smaller than the plan's smallest_area of 0.5000 ha" in found.findings[0].message


# --- thin parts


@pytest.mark.parametrize(
    ("width_m", "after"),
    [
        pytest.param(17.9, 60, id="narrower"),
        pytest.param(18.0, 90, id="exactly as wide as the machine"),
        pytest.param(18.1, 90, id="wider"),
    ],
)
def test_thinner_than_the_machine(width_m: float, after: int) -> None:
    """A strip of the machine's width is one pass, and is kept; a narrower one is joined."""
    found = joined(zone_map("A B A", widths=[100, width_m, 100]), [60, 90, 60], narrowest_m=18.0)
    assert rates(found) == [60, after, 60]


def test_width_counts_where_a_part_is_widest() -> None:
    """A tail 5 m wide on a part of 100 m is no reason to join it: the machine holds the rate in its body."""
    drawn = zone_map("A B A", "A A B", "A A B", widths=[100, 5, 100], heights=[100, 10, 100])
    found = joined(drawn, [60, 90, 60, 60, 60, 90, 60, 60, 90], narrowest_m=18.0)
    # The 5 m strip alone touches the body in no edge: it is a part of its own, and goes.
    assert rates(found) == [60, 60, 60, 60, 60, 90, 60, 60, 90]
    drawn = zone_map("B B A", "A A A", widths=[100, 50, 100], heights=[100, 100])
    assert rates(joined(drawn, [90, 90, 60, 60, 60, 60], narrowest_m=90.0)) == [90, 90, 60, 60, 60, 60]


def test_pieces_of_one_rate_are_as_wide_as_they_are_together() -> None:
    """Two strips of 12 m side by side are one of 24 m: room for 18 m, though neither has it alone, and none for 25."""
    drawn = zone_map("A B C A", widths=[100, 12, 12, 100])
    before = [60, 90, 90, 60]
    assert rates(joined(drawn, before, narrowest_m=18.0)) == before
    assert rates(joined(drawn, before, narrowest_m=25.0)) == [60] * 4


@pytest.mark.parametrize("angle", [0.0, 17.0, 45.0, 80.0])
def test_width_does_not_depend_on_the_direction(angle: float) -> None:
    """A strip of 20 m at any angle is wide enough for 18 m and too narrow for 22 m."""
    strip = shapely.affinity.rotate(shapely.box(-400, -10, 400, 10), angle, origin=(0, 0))
    field = shapely.box(-200, -200, 200, 200)
    inside = shapely.intersection(strip, field)
    rest = shapely.get_parts(shapely.difference(field, inside))
    shapes = np.array([inside, *rest], dtype=object)
    drawn = zone_map_of(shapes, [(0,), *[(1,)] * len(rest)], names=["S", "A"])
    before = [90] + [60] * len(rest)
    assert rates(joined(drawn, before, narrowest_m=18.0)) == before
    assert rates(joined(drawn, before, narrowest_m=22.0)) == [60] * len(before)


@pytest.mark.parametrize("angle", range(7, 90, 11))
def test_a_strip_of_the_machine_s_width_is_wide_enough_at_any_angle(angle: int) -> None:
    """Coordinates of a turned strip are rounded, and 18 m may be a hair less: that is one pass all the same."""
    turned = [
        shapely.affinity.rotate(shapely.box(-200, low, 200, high), angle, origin=(31.7, 5.3))
        for low, high in ((-200, -9), (-9, 9), (9, 200))
    ]
    drawn = zone_map_of(np.array(turned, dtype=object), [(0,), (1,), (0,)], names=["A", "S"])
    assert rates(joined(drawn, [60, 90, 60], narrowest_m=18.0)) == [60, 90, 60]
    assert rates(joined(drawn, [60, 90, 60], narrowest_m=18.01)) == [60, 60, 60]


def test_a_strip_at_0_under_a_boom_survives() -> None:
    """20 ft at rate 0 under a 90 ft boom: never joined, filled or widened away, only reported."""
    drawn = zone_map("A W B", widths=[100, 20 * FOOT_M, 100])
    found = joined(drawn, [60, 0, 90], narrowest_m=BOOM_M, smallest_m2=2000)
    assert rates(found) == [60, 0, 90]
    assert not found.joined.any()
    assert ids(found) == [("tiny-part", "note")]
    found = joined(drawn, [60, 0, 90], narrowest_m=BOOM_M)
    assert rates(found) == [60, 0, 90]
    assert ids(found) == [("thin-part", "caution")]
    assert "27.43 m (90.0 ft)" in found.findings[0].message
    assert "Shut off by hand" in found.findings[0].remedy


def test_no_treated_ground_moves_into_rate_0() -> None:
    """A thin treated strip between two zones at 0 has no neighbour to join: it stays and is reported."""
    found = joined(zone_map("A B A", widths=[100, 5, 100]), [0, 90, 0], narrowest_m=18.0)
    assert rates(found) == [0, 90, 0]
    assert ids(found) == [("thin-part", "caution")]
    assert "redraw" in found.findings[0].remedy


def test_the_longest_border_on_rate_0_does_not_count() -> None:
    """The strip has 100 m of border on ground at 0 and 5 m on treated ground: it joins the treated one."""
    drawn = zone_map("A B A", "C C C", widths=[100, 5, 100])
    found = joined(drawn, [0, 90, 0, 60, 60, 60], narrowest_m=18.0)
    assert rates(found) == [0, 60, 0, 60, 60, 60]


def test_no_treated_ground_moves_into_a_keep_out() -> None:
    """A strip between a keep-out and a zone joins the zone; between two keep-outs it stays."""
    drawn = zone_map("A!0 B A", widths=[100, 5, 100], keep_outs=[()])
    found = joined(drawn, [60, 90, 60], narrowest_m=18.0)
    assert rates(found)[1:] == [60, 60]
    drawn = zone_map("A!0 B A!0", widths=[100, 5, 100], keep_outs=[()])
    found = joined(drawn, [60, 90, 60], narrowest_m=18.0)
    assert rates(found)[1] == 90


def test_a_narrow_keep_out_is_never_a_part() -> None:
    """Its number means nothing, it is not reported as ground the machine can't treat, and splits what it parts."""
    drawn = zone_map("A K!0 A", widths=[100, 3, 100], keep_outs=[()])
    found = joined(drawn, [60, 90, 60], narrowest_m=18.0, smallest_m2=1000)
    assert found.findings == ()
    assert not found.joined.any()


def test_report_leaves_thin_parts_as_drawn() -> None:
    """thin_parts = "report": the rate stays, a caution says where and how wide the machine is."""
    found = joined(zone_map("A B A", widths=[100, 5, 100]), [60, 90, 60], narrowest_m=18.0, join=False)
    assert rates(found) == [60, 90, 60]
    assert ids(found) == [("thin-part", "caution")]
    assert "zone B at 90 kg/ha, 0.0500 ha" in found.findings[0].message
    assert "18.00 m (59.1 ft)" in found.findings[0].message


def test_report_is_about_width_alone() -> None:
    """Parts below the smallest area join all the same; smallest_area = 0 keeps them."""
    drawn = zone_map("A B A", widths=[100, 5, 100])
    assert rates(joined(drawn, [60, 90, 60], smallest_m2=600, join=False)) == [60, 60, 60]


def test_no_machine_no_width() -> None:
    """Where no width is known, nothing is too thin."""
    assert rates(joined(zone_map("A B A", widths=[100, 0.5, 100]), [60, 90, 60])) == [60, 90, 60]


def test_the_note_says_what_joining_changed() -> None:
    """Zone B, 500 m2 from 90 to 60 kg/ha: 1.5 kg less, and how to keep it."""
    (finding,) = joined(zone_map("A B A", widths=[100, 5, 100]), [60, 90, 60], narrowest_m=18.0).findings
    assert (finding.id, finding.severity, finding.area_m2) == ("parts-joined", "note", 500)
    assert "0.0500 ha (0.124 ac), in zone B; the total changes by -1.5 kg" in finding.message
    assert 'smallest_area = "0 m2"' in finding.remedy


def test_many_zones_are_not_all_named() -> None:
    """Of twenty strips that are joined twelve are named, and so of the zones that one thin part is made of."""
    strips = [name for at in range(20) for name in (f"S{at:02}", "W")]
    drawn = zone_map(" ".join(strips), widths=[5.0, 100.0] * 20)
    numbers = [90, 60] * 20
    (finding,) = joined(drawn, numbers, narrowest_m=18.0).findings
    assert "in zone S00, S01, " in finding.message
    assert "S11 and 8 more; the total" in finding.message
    row = zone_map(" ".join(f"S{at:02}" for at in range(20)), heights=[5.0])
    (finding,) = joined(row, [90] * 20, narrowest_m=18.0).findings
    assert "a part of zone S00, S01, " in finding.message
    assert "S11 and 8 more at 90 kg/ha" in finding.message
    assert finding.zone == ""  # it belongs to none of them alone


# --- which group is the narrowest


@pytest.mark.parametrize(
    ("machine", "joins"),
    [
        pytest.param({}, False, id="no machine: no width is known"),
        pytest.param({"width": "18 m"}, True, id="no drives: the working width"),
        pytest.param({"width": "5 m"}, False, id="a narrow machine"),
        pytest.param(
            {"width": "18 m", "drive": [("left", "-9 m", "-4 m", ""), ("right", "4 m", "9 m", "")]},
            False,
            id="two drives of 5 m, each on its own",
        ),
        pytest.param(
            {"width": "18 m", "drive": [("left", "-9 m", "-4 m", "all"), ("right", "4 m", "9 m", "all")]},
            True,
            id="the same two as one group, 18 m across",
        ),
        pytest.param(
            {"width": "18 m", "drive": [("a", "-9 m", "0 m", "x"), ("b", "0 m", "4 m", "y"), ("c", "4 m", "9 m", "x")]},
            False,
            id="the narrowest of two groups counts, 4 m",
        ),
    ],
)
def test_the_narrowest_group_counts(machine: dict[str, Any], joins: bool) -> None:
    """A strip of 5 m is joined where the narrowest group that carries the product is wider."""
    of = granular()
    spans = machine.get("drive", [])
    drives = [
        {"name": name, "span": [left, right], "product": of.name, "group": group} for name, left, right, group in spans
    ]
    plan = plan_of(of, machine={**machine, "drive": drives} if drives else machine)
    drawn = zone_map("A B A", widths=[100, 5, 100])
    found = rate_product(drawn, borders_of(drawn), wanted_of(drawn, A=60, B=90), of, plan, no_data="refuse")
    assert (found.map.numbers * 5).tolist() == [60, 60 if joins else 90, 60]
    assert ("joined to its neighbour at 60 kg/ha" in found.map.why[1]) is joins


# --- what always holds

CELLS = st.sampled_from(["A", "B", "C", "D", "O", "K!0"])
VALUE = {"A": 60, "B": 90, "C": 120, "D": 150, "O": 0, "K": 90}
SIZES = st.sampled_from([3.0, 10.0, 25.0, 60.0])


@st.composite
def fields(draw: st.DrawFn) -> ZoneMap:
    across, down = draw(st.integers(1, 6)), draw(st.integers(1, 6))
    rows = [" ".join(draw(CELLS) for _ in range(across)) for _ in range(down)]
    return zone_map(
        *rows,
        widths=[draw(SIZES) for _ in range(across)],
        heights=[draw(SIZES) for _ in range(down)],
        keep_outs=[()],
    )


@settings(max_examples=200, deadline=None)
@drawn_by(drawn=fields(), smallest=st.sampled_from([0.0, 500.0, 2000.0]), width=st.sampled_from([None, 12.0, 30.0]))
def test_joining_ends_and_changes_rates_alone(drawn: ZoneMap, smallest: float, width: float | None) -> None:
    """Rates that were there, off ground and keep-outs as they were, the same again, and no joinable part left."""
    before = [VALUE[drawn.zone_of(piece)] for piece in range(len(drawn.shapes))]
    found = joined(drawn, before, smallest_m2=smallest, narrowest_m=width)
    again = joined(drawn, before, smallest_m2=smallest, narrowest_m=width)
    assert found.numbers.tolist() == again.numbers.tolist()
    treated = drawn.treated("Granular B")
    after = rates(found)
    for piece, (old, new) in enumerate(zip(before, after, strict=True)):
        assert new in before
        if old == 0 or not treated[piece]:
            assert new == old
        else:
            assert new > 0
    settled = joined(drawn, after, smallest_m2=smallest, narrowest_m=width)
    assert not settled.joined.any()
    assert unfit_with_a_host(drawn, after, smallest, width) == []


def unfit_with_a_host(drawn: ZoneMap, after: list[int], smallest: float, width: float | None) -> list[list[int]]:
    """Find parts that should have been joined, by other means: unions, their area, and their largest circle."""
    treated = drawn.treated("Granular B")
    found = []
    for rate in {one for one, open_ground in zip(after, treated, strict=True) if open_ground and one > 0}:
        own = [at for at, one in enumerate(after) if one == rate and treated[at]]
        others = shapely.union_all(
            drawn.shapes[[at for at, one in enumerate(after) if one > 0 and treated[at] and one != rate]]
        )
        for part in shapely.get_parts(shapely.union_all(drawn.shapes[own])):
            beside = shapely.length(shapely.intersection(part.boundary, others)) > 1
            circle = shapely.length(shapely.maximum_inscribed_circle(part, 0.01))
            thin = width is not None and 2 * circle < width - 0.1
            if beside and (part.area < smallest - 1 or thin):
                found.append([at for at in own if part.covers(drawn.shapes[at].representative_point())])
    return found


def test_many_thin_parts_are_told_together() -> None:
    """The twelve largest each, all others in one finding: none of their ground is left out."""
    widths = [float(3 + at % 2) if at % 2 == 0 else 50.0 for at in range(41)]
    drawn = zone_map(" ".join("T" if at % 2 == 0 else "W" for at in range(41)), widths=widths)
    before = [90 if at % 2 == 0 else 60 for at in range(41)]
    found = joined(drawn, before, narrowest_m=18.0, join=False).findings
    assert len(found) == 13
    assert "9 more parts, 0.2700 ha (0.667 ac) in all, stay as drawn and are narrower" in found[-1].message
    assert sum(one.area_m2 or 0 for one in found) == pytest.approx(drawn.area_m2[::2].sum())


@settings(max_examples=100, deadline=None)
@drawn_by(
    points=st.lists(st.tuples(st.integers(-80, 80), st.integers(-80, 80)), min_size=3, max_size=9, unique=True),
    width=st.sampled_from([10.0, 25.0, 40.0]),
)
def test_room_for_the_machine_is_room_for_a_disc(points: list[tuple[int, int]], width: float) -> None:
    """Whether a part is too thin agrees with its largest inscribed circle, found by another method."""
    part = shapely.convex_hull(shapely.multipoints(points)) if len(points) < 5 else shapely.Polygon(points)
    field = shapely.box(-100, -100, 100, 100)
    rest = shapely.get_parts(shapely.difference(field, part)) if part.is_valid and part.area > 1 else []
    assume(len(rest) == 1)
    drawn = zone_map_of(np.array([part, rest[0]], dtype=object), [(0,), (1,)], names=["P", "R"])
    room_m = 2 * shapely.length(shapely.maximum_inscribed_circle(part, 0.01))
    kept = not joined(drawn, [90, 60], narrowest_m=width).joined[0]
    assume(abs(room_m - width) > 0.01 * width)
    assert bool(kept) is bool(room_m > width)
