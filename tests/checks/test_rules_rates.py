"""Rules about rates: what is missing, what is no number, what the product does not allow."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from support_cases import write_bad_cells, write_text_rates
from support_checks import SPRAYER, library, named, plan_for, strips, the, unseen
from support_fields import SPREADER, keep_out, write_box

from vrx.checks.rule import Seen
from vrx.checks.rules import rate_column_unclear, rate_zero
from vrx.model.checked_map import BuiltAs
from vrx.runs.check import Against, check, look_at, read_against

# SPREADER: 20 to 200 kg/ha in steps of 5; strips of 3 are 3.5 ha each.
RATE_RULES = (
    "rate-column-unclear", "rate-missing", "rate-not-a-number", "rate-no-data-code", "rate-unit-suspect",
    "rate-negative", "rate-zero", "rate-above-max", "rate-below-min", "rate-off-step", "rate-too-wide",
    "rates-converted", "flat-map",
)  # fmt: skip


def ids(found: Any) -> list[str]:
    return [one.id for one in found.findings if one.id in RATE_RULES]


@pytest.mark.parametrize("unit", ["", "kg/ha"])
def test_a_sound_map_gets_no_word(tmp_path: Path, unit: str) -> None:
    """Rates on steps and within limits, in the product's unit, are nothing to talk about."""
    found = check([strips(tmp_path, (85, 115, 140))], plan=plan_for(tmp_path), unit=unit)
    assert found.verdict == "clear"
    assert found.findings == ()


def test_two_columns_that_may_hold_rates(tmp_path: Path) -> None:
    """The operator sees which columns there are, with their numbers, and how to choose."""
    found = check([strips(tmp_path, (90, 120, 150), column="n_rate", more={"p_rate": (10, 20, 40.5)})])
    one = the(found, "rate-column-unclear")
    assert one.severity == "stop"
    assert "n_rate (90 to 150), p_rate (10 to 40.5)" in one.message
    assert "--column NAME" in one.remedy
    assert "--product NAME" in one.remedy


def test_columns_of_a_bundle_are_told_with_their_products(tmp_path: Path) -> None:
    """Where the bundle knows whose column is whose, the operator need not guess."""
    on = look_at([strips(tmp_path, (90, 120, 150), column="n_rate", more={"p_rate": (10, 20, 40)})], Against())
    built = BuiltAs(bundle="b", by="checksum", map_name="map", products={"n_rate": "UAN 32", "p_rate": "MAP"})
    (seen,) = rate_column_unclear.look(replace(on, built_as=built))
    assert isinstance(seen, Seen)
    assert "n_rate (90 to 150, for UAN 32), p_rate (10 to 40, for MAP)" in seen.message


def test_rate_0_in_a_map_as_it_was_built(tmp_path: Path) -> None:
    """What a plan wants at 0, the build wrote: that is no news."""
    on = look_at([strips(tmp_path, (100, 0, 120))], read_against(plan=plan_for(tmp_path)))
    assert [one.severity for one in rate_zero.look(on) if isinstance(one, Seen)] == ["note"]
    built = BuiltAs(bundle="b", by="checksum", map_name="map")
    assert list(rate_zero.look(replace(on, built_as=built))) == []


def test_no_column_of_rates(tmp_path: Path) -> None:
    """A map of names alone has no rates, and its columns are named."""
    one = the(check([strips(tmp_path, ("x", "y", "z"), column="label")]), "rate-column-unclear")
    assert "No column of the map holds rates: its columns are zone, label." in one.message


def test_a_map_built_with_a_column_for_each_product(tmp_path: Path) -> None:
    """Its bundle knows whose each column is: the product is asked for, no column."""
    path = strips(tmp_path, (90, 120, 150), column="first", more={"second": (10, 20, 30)})
    on = look_at([path], read_against())
    built = BuiltAs(bundle="b", by="checksum", map_name="map", products={"first": "Granular", "second": "Liquid"})
    (one,) = [seen for seen in rate_column_unclear.look(replace(on, built_as=built)) if isinstance(seen, Seen)]
    assert one.remedy == 'Check it once for each product: with --product "Granular", then with the next.'


def test_numbers_of_zones_are_no_rates(tmp_path: Path) -> None:
    """A layer of zones that was taken for the map is not loaded at 1 to 2 kg/ha."""
    found = check([strips(tmp_path, ("x", "y", "z"), column="label", more={"ZONE_2": (1, 2, 1)})])
    assert "No column of the map holds rates" in the(found, "rate-column-unclear").message


@pytest.mark.parametrize("more", [{"column": "n_rate"}, {}], ids=["said", "the only one"])
def test_a_column_that_is_known_is_clear(tmp_path: Path, more: dict[str, str]) -> None:
    """A column that was named, or the only one, needs no question."""
    two = {"p_rate": (10, 20, 40.5)} if more else {}
    assert not named(
        check([strips(tmp_path, (90, 120, 150), column="n_rate", more=two)], **more), "rate-column-unclear"
    )


def test_cells_without_a_number_by_kind(tmp_path: Path) -> None:
    """Empty, code and text are three findings, with their records and what stands in them; 0 and 85 are none."""
    found = check([write_bad_cells(tmp_path)], unit="kg/ha")
    missing, code, text = (the(found, f"rate-{kind}") for kind in ("missing", "no-data-code", "not-a-number"))
    assert {one.severity for one in (missing, code, text)} == {"stop"}
    assert missing.features == (2, 3)  # blank, and a field of asterisks
    assert "Z2 (record 2)" in missing.message
    assert "Z3 (record 3)" in missing.message
    assert missing.area_m2 == pytest.approx(2 * 45_000, rel=1e-6)
    assert "'-9999.00' in Z4 (record 4), on 4.5000 ha" in code.message
    assert all(part in text.message for part in ("'NULL' in Z5", "'1.#QNAN' in Z6", "'12,5' in Z7"))
    assert '--decimal ","' in text.remedy


def test_text_that_is_read_in_two_ways(tmp_path: Path) -> None:
    """1,250 is told by itself: it stays doubtful whatever the decimal mark is."""
    found = check([write_text_rates(tmp_path)], unit="us_gal/ac", decimal=",")
    (twice,) = [one for one in named(found, "rate-not-a-number") if "two ways" in one.message]
    assert "'1,250' in Z5 (record 5)" in twice.message
    (other,) = [one for one in named(found, "rate-not-a-number") if one is not twice]
    assert "'12 gal' in Z2" in other.message
    assert "Z1" not in other.message


def test_records_without_ground_do_not_count(tmp_path: Path) -> None:
    """A bad cell of a record that has no shape is no rate of any ground."""
    path = strips(tmp_path, (90, None, 150))
    text = path.read_text().replace('"zone": "B"', '"zone": "B"')
    features = text.split('{"type": "Feature"')
    features[2] = features[2][: features[2].index('"geometry": ')] + '"geometry": null}, '
    path.write_text('{"type": "Feature"'.join(features))
    assert not named(check([path], unit="kg/ha"), "rate-missing")


@pytest.mark.parametrize(
    ("rates", "name", "severity", "words"),
    [
        pytest.param(
            (100, 240, 215),
            "rate-above-max",
            "stop",
            "maximum of 200 kg/ha, and the map wants 240 kg/ha in B (record 2), 40 kg/ha too much; "
            "215 kg/ha in C (record 3), 15 kg/ha too much, on 7.0000 ha (17.297 ac). "
            "Allowed: 0, or 20 to 200 kg/ha in steps of 5.",
            id="above",
        ),
        pytest.param(
            (100, 0, 15),
            "rate-below-min",
            "caution",
            "minimum of 20 kg/ha, and the map wants 15 kg/ha in C (record 3), on 3.5000 ha",
            id="below, and 0 is not",
        ),
        pytest.param(
            (102.5, 100, 240),
            "rate-off-step",
            "caution",
            "is given as 0, or 20 to 200 kg/ha in steps of 5, and the map wants 102.5 kg/ha in A (record 1), on 3.5",
            id="off step, and what is above is not told again",
        ),
        pytest.param((-4, 100, 120), "rate-negative", "stop", "Rates below 0: -4 kg/ha in A (record 1), on 3.5000 ha",
                     id="negative"),
    ],
)  # fmt: skip
def test_rates_that_the_product_does_not_allow(
    tmp_path: Path, rates: tuple[float, ...], name: str, severity: str, words: str
) -> None:
    """Each kind is told once, with zones, rates, ground and what the product allows."""
    one = the(check([strips(tmp_path, rates)], product=library(tmp_path), unit="kg/ha"), name)
    assert words in one.message
    assert one.severity == severity


def test_rates_at_the_limits_are_allowed(tmp_path: Path) -> None:
    """The lowest and the highest rate are rates like others."""
    assert ids(check([strips(tmp_path, (20, 200, 0))], product=library(tmp_path), unit="kg/ha")) == []


def test_many_rates_are_told_by_their_ends(tmp_path: Path) -> None:
    """Nine rates off their steps are one sentence, not nine."""
    rates = [100 + 5 * at + 1 for at in range(9)]
    one = the(check([strips(tmp_path, rates)], product=library(tmp_path), unit="kg/ha"), "rate-off-step")
    assert "9 rates from 101 kg/ha to 141 kg/ha in A (record 1)" in one.message
    assert len(one.features) == 9


def test_a_product_that_can_t_be_shut_off(tmp_path: Path) -> None:
    """Rate 0 stops where the machine can't do it."""
    product = library(tmp_path, SPREADER + "off_allowed = false\n")
    found = check([strips(tmp_path, (100, 0, 120))], product=product, unit="kg/ha")
    assert "can't be shut off, and the map wants 0 in B (record 2), on 3.5" in the(found, "rate-zero").message
    assert found.verdict == "stop"


def test_rate_0_in_keep_outs_is_meant_and_elsewhere_worth_a_word(tmp_path: Path) -> None:
    """Zone B is a keep-out but for a strip of 20 m: 0.5 ha get nothing, and that is a note."""
    write_box(tmp_path / "pond.geojson", -70.0, 0.0, 50.0, 250.0)
    plan = plan_for(tmp_path, rest=keep_out("pond.geojson"))
    found = check([strips(tmp_path, (100, 0, 120))], plan=plan)
    one = the(found, "rate-zero")
    assert one.severity == "note"
    assert "Nothing goes onto 0.5000 ha (1.236 ac) of the field outside the keep-outs: B (record 2)" in one.message
    write_box(tmp_path / "pond.geojson", -70.3, 0.0, 70.3, 250.0)
    assert not named(check([strips(tmp_path, (100, 0, 120))], plan=plan), "rate-zero")


def test_a_conversion_with_a_figure_of_the_product_is_shown(tmp_path: Path) -> None:
    """Nitrogen of a 28 % solution of 10.66 lb/gal: the sum stands there; litres for gallons need none."""
    solution = (
        '[[product]]\nname = "S"\nform = "liquid"\nuse = "fertiliser"\nmin = "1 us_gal/ac"\nmax = "60 us_gal/ac"\n'
        'step = "0.01 us_gal/ac"\ndensity = "10.66 lb/us_gal"\nanalysis = { N = "28 %" }\n'
    )
    product = library(tmp_path, solution, name="S")
    one = the(check([strips(tmp_path, (90, 120, 150))], product=product, unit="lb N/ac"), "rates-converted")
    assert "28 % N x 10.66 lb/us_gal" in one.message
    assert not named(check([strips(tmp_path, (90, 120, 150))], product=product, unit="L/ha"), "rates-converted")


@pytest.mark.parametrize(
    ("rates", "keys", "words"),
    [
        pytest.param((85000, 102500, 98000), "rate_width = 5", "102500 needs a width of 6, and the receiver's column "
                     "has a width of 5: B (record 2).", id="too wide"),
        pytest.param((8, 10.25, 9), "rate_decimals = 1", "Rates are written with 2 decimals, and the receiver's "
                     "column holds 1 (width free): B (record 2).", id="too many decimals"),
        pytest.param((85000, 10250, 98000), "rate_width = 5", "", id="fits"),
        pytest.param((8, 10.5, 9), "rate_width = 4\nrate_decimals = 1", "", id="fits with its decimals"),
    ],
)  # fmt: skip
def test_rates_that_do_not_fit_the_receiver(tmp_path: Path, rates: tuple[float, ...], keys: str, words: str) -> None:
    """102500 in five digits is read as 10250."""
    wide = SPREADER.replace("200 kg/ha", "200000 kg/ha").replace("5 kg/ha", "0.25 kg/ha").replace("20 kg", "1 kg")
    plan = plan_for(tmp_path, products=wide, rest=f"[receiver]\n{keys}\n")
    found = named(check([strips(tmp_path, rates)], plan=plan, column="rate"), "rate-too-wide")
    assert [words in one.message for one in found] == [True] * bool(words)


def test_a_rate_without_ground_is_not_too_long_for_the_receiver(tmp_path: Path) -> None:
    """Only the record without a shape is written with decimals: its rate goes nowhere."""
    path = strips(tmp_path, (85, 90, 95))
    layer = json.loads(path.read_text())
    layer["features"].append({"type": "Feature", "geometry": None, "properties": {"zone": "D", "rate": 55.5}})
    path.write_text(json.dumps(layer))
    found = check([path], plan=plan_for(tmp_path, rest="[receiver]\nrate_decimals = 0\n"), column="rate")
    assert found.on.the_rates.decimals == 1
    assert not named(found, "rate-too-wide")


@pytest.mark.parametrize(
    ("rates", "words"),
    [
        pytest.param((100, 100, 100), "All ground has one rate, 100 kg/ha", id="one rate"),
        pytest.param((100, 0, 100), "All ground that gets any has one rate, 100 kg/ha", id="and 0 beside it"),
        pytest.param((100,), "All ground has one rate", id="one record"),
        pytest.param((100, 105, 100), "", id="two rates"),
        pytest.param((0, 0, 0), "", id="nothing at all"),
        pytest.param((100, None, 100), "", id="one is not known"),
    ],
)
def test_a_map_of_one_rate(tmp_path: Path, rates: tuple[float | None, ...], words: str) -> None:
    """It does no more than a rate set by hand."""
    found = named(check([strips(tmp_path, rates)], unit="kg/ha", column="rate"), "flat-map")
    assert [(one.severity, words in one.message) for one in found] == [("note", True)] * bool(words)


def test_without_a_product_limits_are_not_looked_at(tmp_path: Path) -> None:
    """Nothing is clear by silence: it is said what would let the rules look."""
    found = check([strips(tmp_path, (100, 240, 215))], crs="", unit="kg/ha")
    assert "--product" in unseen(found, "rate-above-max")[0]
    assert found.verdict == "clear"


@pytest.mark.parametrize(
    ("unit", "severity"),
    [pytest.param("", "stop", id="the product's unit stands in"), pytest.param("us_gal/ac", "caution", id="said")],
)
def test_litres_read_as_gallons(tmp_path: Path, unit: str, severity: str) -> None:
    """112.2 L/ha is 12 gal/ac (9.353956, NIST SP 811): both readings and the factor are told."""
    product = library(tmp_path, SPRAYER, name="Liquid", units="us")
    path = strips(tmp_path, (112.2, 131.0, 149.7), widths=(200, 120, 100))
    one = the(check([path], product=product, unit=unit), "rate-unit-suspect")
    assert one.severity == severity
    assert "112.2 read as " in one.message
    assert "as L/ha it would be 12 gal/ac: factor 9.35" in one.message
    assert "0, or 8 to 26 gal/ac in steps of 1" in one.message


def test_gallons_read_as_gallons_are_not_suspect(tmp_path: Path) -> None:
    """Rates on their steps are what they are."""
    product = library(tmp_path, SPRAYER, name="Liquid", units="us")
    assert not named(check([strips(tmp_path, (12, 14, 16))], product=product), "rate-unit-suspect")
