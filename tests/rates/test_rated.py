"""One product from wanted rates to given ones: what limits change, and what is said about it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given as drawn_by
from hypothesis import strategies as st
from support_products import granular, product, seed
from support_zone_maps import HA, borders_of, plan_of, wanted_of, zone_map

from vrx.model.finding import Finding
from vrx.model.plan import NoData
from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap
from vrx.rates.rated import Rated, rate_product
from vrx.rates.wanted import Wanted


def rated(
    drawn: ZoneMap, of: Product, *, no_data: NoData = "refuse", plan: dict[str, Any] | None = None, **rates: float
) -> Rated:
    wanted = wanted_of(drawn, **rates)
    return rate_product(drawn, borders_of(drawn), wanted, of, plan_of(of, **(plan or {})), no_data=no_data)


def named(found: Rated, name: str) -> list[Finding]:
    return [one for one in found.findings if one.id == name]


def given(found: Rated) -> list[float]:
    return [float(found.map.product.rate_of(int(number))) for number in found.map.numbers]


@pytest.mark.parametrize(
    ("wanted", "keys", "gets", "name", "severity", "words"),
    [
        pytest.param(22, {}, 30, "rate-below-min", "caution", "below the minimum, raised", id="raised"),
        pytest.param(
            14, {"below_min": "half"}, 0, "rate-below-min", "note", "below half of the minimum, shut off", id="half"
        ),
        pytest.param(
            22, {"below_min": "off"}, 0, "rate-below-min", "note", "below the minimum, shut off", id="off"
        ),
        pytest.param(
            22, {"below_min": "refuse"}, 0, "rate-below-min", "stop", "below the minimum, which the plan refuses",
            id="below, refused",
        ),
        pytest.param(240, {}, 200, "rate-above-max", "note", "above the maximum, lowered", id="lowered"),
        pytest.param(
            240, {"above_max": "refuse"}, 0, "rate-above-max", "stop", "above the maximum, which the plan refuses",
            id="above, refused",
        ),
        pytest.param(-3, {}, 0, "rate-negative", "note", "below 0, no need, shut off", id="negative"),
        pytest.param(
            0, {"off_allowed": False}, 0, "rate-zero", "stop", "0 or less, and it can't be shut off", id="zero"
        ),
        pytest.param(
            -3, {"off_allowed": False}, 0, "rate-zero", "stop", "0 or less, and it can't be shut off",
            id="negative and never off",
        ),
    ],
)  # fmt: skip
def test_every_limit_says_what_it_did(
    wanted: float, keys: dict[str, Any], gets: float, name: str, severity: str, words: str
) -> None:
    """One hectare of B among nine of A: what it gets, the finding's id and severity, zone, area and rates."""
    drawn = zone_map("A A A A A A A A A B")
    found = rated(drawn, granular(**keys), A=100, B=wanted)
    assert given(found) == [100] * 9 + [gets]
    (finding,) = named(found, name)
    assert (finding.severity, finding.area_m2, finding.product) == (severity, HA, "Granular B")
    assert words in finding.message
    assert "1.0000 ha (2.471 ac)" in finding.message
    assert "The product allows" in finding.remedy
    if severity == "stop":
        assert f"B wants {wanted} kg/ha" in finding.message
        assert "the total changes" not in finding.message
    else:
        assert f"B wanted {wanted}, gets {gets} kg/ha" in finding.message
        # Below 0 is no need: shutting off there saves nothing and costs nothing.
        assert (f"the total changes by {gets - wanted:+} kg" in finding.message) == (wanted > 0)
        assert ("the total changes" in finding.message) == (wanted > 0)


def test_rates_within_limits_need_no_words() -> None:
    """0, the minimum, the maximum and a step in between: nothing to say."""
    found = rated(zone_map("A B C D"), granular(), A=0, B=30, C=200, D=115)
    assert given(found) == [0, 30, 200, 115]
    assert found.findings == ()
    assert found.map.why == ("", "", "", "")


@pytest.mark.parametrize(
    ("width_m", "severity"),
    [
        pytest.param(9.99, "note", id="just below 1 % of the ground"),
        pytest.param(10.01, "caution", id="just above"),
    ],
)
def test_raising_more_than_1_percent_of_the_ground(width_m: float, severity: str) -> None:
    """29 raised to 30 hardly moves the total; on more than 1 % of the ground it is a caution all the same."""
    found = rated(zone_map("A B", widths=[1000 - width_m, width_m]), granular(), A=100, B=29)
    assert named(found, "rate-below-min")[0].severity == severity
    assert not named(found, "limits-move-total")


def test_the_ground_is_the_ground_that_the_product_treats() -> None:
    """Half of the field is kept out: 0.6 % of the field is 1.2 % of the ground to treat."""
    drawn = zone_map("A B K!0", widths=[494, 6, 500], keep_outs=[()])
    assert named(rated(drawn, granular(), A=100, B=29, K=100), "rate-below-min")[0].severity == "caution"


@pytest.mark.parametrize(
    ("wanted", "said"),
    [
        pytest.param(100.99, [], id="1.01 a hectare less of 101, just below 1 %"),
        pytest.param(101.02, ["caution"], id="1.02 of 101, just above"),
    ],
)
def test_moving_the_total_by_more_than_1_percent(wanted: float, said: list[str]) -> None:
    """Rounding alone may move a total: 100.99 and 101.02 both go to 100, and only one of them is over 1 %."""
    found = rated(zone_map("A"), granular(), A=wanted)
    assert given(found) == [100]
    assert [one.severity for one in named(found, "limits-move-total")] == said


def test_a_total_is_that_of_the_ground_to_treat() -> None:
    """What would be wanted in a keep-out is no part of the total: 1.02 kg of 101.02 are moved, not of 201.02."""
    (finding,) = named(rated(zone_map("A K!0", keep_outs=[()]), granular(), A=101.02, K=100), "limits-move-total")
    assert "by -1.02 kg: from 101 wanted to 100 kg on 1.0000 ha (2.471 ac)" in finding.message


def test_the_moved_total_is_told_with_acres_and_amount() -> None:
    """240 lowered to 200 on one of ten hectares of 100: 40 kg of 1140."""
    (finding,) = named(rated(zone_map("A A A A A A A A A B"), granular(), A=100, B=240), "limits-move-total")
    assert "by -40 kg: from 1,140 wanted to 1,100 kg on 10.0000 ha (24.711 ac)" in finding.message


def test_ups_and_downs_cancel() -> None:
    """One hectare up by 8 and another down by 8 leave the total as it is."""
    found = rated(zone_map("A B"), granular(), A=22, B=208)
    assert given(found) == [30, 200]
    assert not named(found, "limits-move-total")


def test_from_nothing_to_something_moves_the_total() -> None:
    """A total of 0 has no percent: raising 1 kg/ha to 30 everywhere is told."""
    assert named(rated(zone_map("A"), granular(), A=1), "limits-move-total")
    assert not named(rated(zone_map("A"), granular(), A=0), "limits-move-total")


def test_what_is_not_needed_in_one_zone_is_no_less_in_another() -> None:
    """A wants 100 and gets it, B wants -80 and gets nothing: the total is what A needs, and nothing moved it."""
    found = rated(zone_map("A B"), granular(), A=100, B=-80)
    assert given(found) == [100, 0]
    assert named(found, "limits-move-total") == []


def test_a_rate_below_0_hides_no_shortfall() -> None:
    """A wants 220 and gets 200, B wants -20: 20 kg of 220 are missing, and B does not make up for them."""
    (finding,) = named(rated(zone_map("A B"), granular(), A=220, B=-20), "limits-move-total")
    assert "by -20 kg: from 220 wanted to 200 kg" in finding.message


def test_what_is_refused_moves_no_total() -> None:
    """A refused rate has no given one to compare with: the stop says so, and no total is made up."""
    found = rated(zone_map("A B"), granular(above_max="refuse"), A=100, B=240)
    assert [one.id for one in found.findings] == ["rate-above-max"]


def test_amounts_of_seeds_are_written_out() -> None:
    """Numbers for people: 8,000 seeds/ac less on a hectare are 19,768 seeds, not 1.977e+04."""
    (finding,) = named(rated(zone_map("A"), seed(), A=48000), "rate-above-max")
    assert "by -19,768 seeds" in finding.message
    assert "A wanted 48000, gets 40000 seeds/ac" in finding.message


def test_many_zones_are_told_in_one_finding() -> None:
    """Eight of them by name, the others by number."""
    names = [f"Z{at}" for at in range(12)]
    found = rated(zone_map(" ".join(names)), granular(), **{name: 201.0 + at for at, name in enumerate(names)})
    (finding,) = named(found, "rate-above-max")
    assert "Z7 wanted 208, gets 200 kg/ha and 4 more" in finding.message


# --- gaps, keep-outs, units


@pytest.mark.parametrize(
    ("keys", "gets", "said"),
    [
        pytest.param({"default": "45 kg/ha"}, 45, [], id="said"),
        pytest.param({}, 0, ["caution"], id="unsaid: off"),
        pytest.param({"off_allowed": False}, 30, ["caution"], id="unsaid and never off: the lowest rate"),
    ],
)
def test_a_gap_gets_the_default(keys: dict[str, Any], gets: float, said: list[str]) -> None:
    """Ground without a zone gets the default rate; a default that was never said is a caution of its own."""
    found = rated(zone_map("A . B"), granular(**keys), A=60, B=90)
    assert given(found) == [60, gets, 90]
    assert found.map.why[1] == "no zone here: the default rate"
    assert found.map.wanted[1] == gets
    assert [one.severity for one in named(found, "default-not-said")] == said
    assert not named(found, "limits-move-total")


def test_a_keep_out_stops_a_product_that_can_not_be_shut_off() -> None:
    """The remedy says to lift or drive around."""
    drawn = zone_map("A A!0", keep_outs=[()])
    (finding,) = named(rated(drawn, granular(off_allowed=False), A=60), "keep-out-not-off")
    assert (finding.severity, finding.area_m2) == ("stop", HA)
    assert "Lift" in finding.remedy
    assert "around" in finding.remedy


def test_a_keep_out_binds_the_products_that_it_names() -> None:
    """A well's set-back for another product leaves this one's ground as it was."""
    drawn = zone_map("A A!0 A!1", keep_outs=[("Other",), ("Other", "Granular B")])
    found = rated(drawn, granular(), A=60)
    assert found.map.treated.tolist() == [True, True, False]
    assert found.findings == ()
    assert given(found) == [60, 60, 0]
    assert not named(
        rated(zone_map("A A!0", keep_outs=[("Other",)]), granular(off_allowed=False), A=60), "keep-out-not-off"
    )


@pytest.mark.parametrize(
    ("keys", "wanted", "words"),
    [
        pytest.param({}, 32, "thousands of seeds", id="32 beside 32000"),
        pytest.param({}, 20, "thousands of seeds", id="the minimum in thousands"),
        pytest.param({}, 40, "thousands of seeds", id="the maximum in thousands"),
        pytest.param(
            {"min": "20 thousand_seeds/ac", "max": "40 thousand_seeds/ac", "step": "0.5 thousand_seeds/ac"},
            32000,
            "single seeds",
            id="32000 beside 32",
        ),
    ],
)
def test_seeds_in_thousands_and_single(keys: dict[str, str], wanted: float, words: str) -> None:
    """A rate that fits only a thousand times larger or smaller was probably written in the other unit."""
    fits = 32000.0 if not keys else 32.0
    (finding,) = named(rated(zone_map("A B"), seed(**keys), A=fits, B=wanted), "rate-unit-suspect")
    assert (finding.severity, finding.area_m2) == ("caution", HA)
    assert words in finding.message
    assert finding.message.startswith("Seed C: B wanted")


@pytest.mark.parametrize(
    ("of", "wanted"),
    [
        pytest.param(seed(), 19, id="19 thousand would be below the minimum"),
        pytest.param(seed(), 41, id="41 thousand would be above the maximum"),
        pytest.param(seed(), 0, id="0 is off"),
        pytest.param(product(min="8 gal/ac", max="26000 gal/ac"), 7, id="no seeds"),
    ],
)
def test_no_suspicion_without_a_reason(of: Product, wanted: float) -> None:
    """A thousand times as much would not fit either."""
    assert not named(rated(zone_map("A"), of, A=wanted), "rate-unit-suspect")


def test_a_conversion_is_shown() -> None:
    """How wanted rates became rates of product stands in a note."""
    wanted = Wanted(
        rates=np.array([60.0]),
        inputs=("53.5 lb/ac",),
        values=np.array([np.nan]),
        bad=(),
        sums=("1 lb/ac is 1.12085 kg/ha",),
    )
    drawn, of = zone_map("A"), granular()
    found = rate_product(drawn, borders_of(drawn), wanted, of, plan_of(of), no_data="refuse")
    (finding,) = named(found, "rates-converted")
    assert finding.severity == "note"
    assert "1.12085" in finding.message


# --- what always holds

LIMITS = st.fixed_dictionaries(
    {
        "below_min": st.sampled_from(["raise", "half", "off", "refuse"]),
        "above_max": st.sampled_from(["lower", "refuse"]),
        "off_allowed": st.booleans(),
        "rounding": st.sampled_from(["nearest", "up", "down"]),
        "default": st.sampled_from([None, "45 kg/ha"]),
    }
)
RATES = st.one_of(st.none(), st.sampled_from([0.0, -1.0, 14.9, 29.0, 240.0]), st.floats(-10, 300))


@drawn_by(
    keys=LIMITS, rates=st.lists(RATES, min_size=3, max_size=3), no_data=st.sampled_from(["refuse", "default", "off"])
)
def test_what_is_given_is_allowed_or_stopped(keys: dict[str, Any], rates: list[float | None], no_data: NoData) -> None:
    """Every rate on treated ground is allowed; a product that can't be off is never off without a stop."""
    drawn = zone_map("A A+B B!0 C .", keep_outs=[("Other",)])
    of = granular(**keys)
    wanted = wanted_of(drawn, **dict(zip("ABC", rates, strict=True)))
    found = rate_product(drawn, borders_of(drawn), wanted, of, plan_of(of, overlaps="lowest"), no_data=no_data)
    stopped = any(one.severity == "stop" for one in found.findings)
    for number in found.map.numbers.tolist():
        assert of.number_of(of.rate_of(number)) == number or stopped
    changed = ~np.isclose(found.map.wanted, given(found), rtol=0, atol=1e-9)
    assert all(why for why, one in zip(found.map.why, changed, strict=True) if one)
