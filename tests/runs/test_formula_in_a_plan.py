"""A formula from the plan to the report: what people read, and what is refused with key and line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from support_cases import feature, polygon, rectangle, write_boundary, write_geojson, zone_ring
from support_fields import SPREADER
from support_plans import Outcome, build_plan, plan_text

from vrx.runs.build import build

Capture = pytest.CaptureFixture[str]

NUMBERS: dict[str, dict[str, Any]] = {
    "A": {"om": 2.5, "soil k": 120},
    "B": {"om": 4.0, "soil k": 90},
    "C": {"om": 0.0, "soil k": 60},
}


def plan(
    folder: Path, formula: str, *, constants: str = "", unit: str = "kg/ha", no_data: str = "refuse", **zones: Any
) -> str:
    """Write zones A, B and C with two numbers each, and return a plan with a formula over them."""
    write_boundary(folder)
    features = [
        feature(polygon(zone_ring(zone)), zone=zone, **(numbers | zones.get(zone, {})))
        for zone, numbers in NUMBERS.items()
    ]
    write_geojson(folder / "zones.geojson", features)
    rate = (
        f'[[rate]]\nproduct = "Granular"\nby = "formula"\nformula = "{formula}"\nunit = "{unit}"\n'
        f'no_data = "{no_data}"\n{f"constants = {{ {constants} }}" if constants else ""}\n'
    )
    return plan_text(zones="zones.geojson", boundary="boundary.geojson", products=SPREADER, rates=rate)


def built(folder: Path, capsys: Capture, formula: str, **keys: Any) -> Outcome:
    return build_plan(folder, plan(folder, formula, **keys), capsys)


def test_rates_come_from_fields_and_constants(tmp_path: Path, capsys: Capture) -> None:
    """160 - 20 x 2.5 - 120 / 10 is 98, and so on; then steps of 5 as always."""
    found = built(tmp_path, capsys, "base - 20 * om - `soil k` / 10", constants="base = 160")
    assert found.wanted() == {"A": 98, "B": 71, "C": 154}
    assert found.given() == {"A": 100, "B": 70, "C": 155}


def test_a_person_can_do_the_sum_again(tmp_path: Path, capsys: Capture) -> None:
    """The report has the formula with its constants, and one zone with its numbers put in."""
    path = tmp_path / "plan.toml"
    path.write_text(plan(tmp_path, "base - 20 * om - `soil k` / 10", constants="base = 160"), encoding="utf-8")
    (one,) = build(path).content.products
    said = "Wanted: by the formula base - 20 * om - `soil k` / 10, with base = 160, in kg/ha."
    assert said in one.method
    steps = " ".join(one.example)
    assert "Zone A: om 2.5, soil k 120: 160 - 20 * 2.5 - 120 / 10 = 98 kg/ha. Wanted: 98 kg/ha." in steps
    assert [row.inputs for row in one.rows] == ["om 2.5, soil k 120", "om 4, soil k 90", "om 0, soil k 60"]


def test_a_zone_in_which_it_divides_by_zero_stops_the_build(tmp_path: Path, capsys: Capture) -> None:
    """Zone C has 0: a finding with its numbers and why, and no machine files."""
    found = built(tmp_path, capsys, "`soil k` / om")
    assert found.code == 1
    (failed,) = found.named("rate-formula-failed")
    assert "zone C (soil k 60, om 0: 60 / 0 divides by zero)" in failed["message"]
    assert failed["severity"] == "stop"


def test_such_a_zone_may_get_the_default(tmp_path: Path, capsys: Capture) -> None:
    """no_data says so; then it is a caution."""
    found = built(tmp_path, capsys, "`soil k` / om", no_data="off")
    assert found.code == 0
    assert found.given() == {"A": 50, "B": 25, "C": 0}
    assert found.named("rate-formula-failed")[0]["severity"] == "caution"


@pytest.mark.parametrize(
    ("cell", "finding", "words"),
    [
        pytest.param(None, "rate-missing", "zone B (om is empty)", id="empty"),
        pytest.param(-9999, "rate-no-data-code", "zone B (om is '-9999')", id="a code for no data"),
        pytest.param("wet", "rate-not-a-number", "zone B (om is 'wet')", id="text"),
    ],
)
def test_a_field_without_a_number_is_named(
    cell: Any, finding: str, words: str, tmp_path: Path, capsys: Capture
) -> None:
    """As where a rate itself is missing, with the field that it is about."""
    found = built(tmp_path, capsys, "100 - om", B={"om": cell})
    assert found.code == 1
    assert words in found.named(finding)[0]["message"]


@pytest.mark.parametrize(
    ("formula", "keys", "where", "words"),
    [
        pytest.param("100 - 2om", {}, "rate[0].formula", ["column 8, at o", "Write *"], id="a slip"),
        pytest.param(
            "100 - omm", {}, "rate[0].formula", ["column 7, at omm", 'mean "om"', "`soil k` (a"], id="no such field"
        ),
        pytest.param("om", {"unit": "kg"}, "rate[0].unit", ["mass", "kg/ha"], id="a unit that is no rate"),
        pytest.param("om", {"unit": "L/ha"}, "rate[0].unit", ["density"], id="a unit that can't be turned"),
        pytest.param("om", {"constants": "k = 1"}, "rate[0].constants.k", ["does not use"], id="an idle constant"),
        pytest.param("om + k", {"constants": 'k = "1"'}, "rate[0].constants.k", ["number"], id="a constant as text"),
        pytest.param("om + 1", {"constants": "om = 1"}, "rate[0].formula", ["om: a constant", "too"], id="both"),
    ],
)
def test_a_mistake_is_named_with_its_key_and_line(
    formula: str, keys: dict[str, str], where: str, words: list[str], tmp_path: Path, capsys: Capture
) -> None:
    """Also where it is found only once the zone layer is read."""
    found = built(tmp_path, capsys, formula, **keys)
    assert found.code == 2
    (error,) = found.said["errors"]
    assert error["where"].startswith(f"plan.toml: {where}, line ")
    for word in words:
        assert word in f"{error['problem']} {error['remedy']}"
    assert not list(tmp_path.glob("*bundle*"))


def test_every_name_that_is_not_there_is_told(tmp_path: Path, capsys: Capture) -> None:
    found = built(tmp_path, capsys, "on - so1l")
    assert [one["problem"].partition(": ")[0].rpartition("at ")[2] for one in found.said["errors"]] == ["on)", "so1l)"]


def test_a_field_that_no_zone_in_the_field_uses_is_no_matter(tmp_path: Path, capsys: Capture) -> None:
    """A polygon outside the boundary may fail: it gets no rate anyway."""
    text = plan(tmp_path, "`soil k` / (om + 1)")
    far = feature(polygon(rectangle(5000, 0, 5100, 100)), zone="far", om=-1, **{"soil k": 60})
    zones = [feature(polygon(zone_ring(zone)), zone=zone, **numbers) for zone, numbers in NUMBERS.items()]
    write_geojson(tmp_path / "zones.geojson", [*zones, far])
    found = build_plan(tmp_path, text, capsys)
    assert found.code == 0
    assert not found.named("rate-formula-failed")
