"""Whether product, crop and supply belong to this pass."""

from __future__ import annotations

from typing import Any

import pytest
from support_products import granular, product, seed
from support_zone_maps import plan_of, prescription_of, zone_map

from vrx.ledgers.build import ledger_of
from vrx.model.finding import Finding
from vrx.model.product import Product
from vrx.runs.belonging import belonging_findings, supply_findings
from vrx.units import ACRE_M2, System


def supply(of: Product, rate: float, *, acres: float = 10, units: System = "us") -> list[Finding]:
    """Put a product on so many acres at a rate in the unit of its step."""
    plan = plan_of(of, units=units)
    made = prescription_of(zone_map("A", widths=[acres * float(ACRE_M2) / 100]), plan, {"A": rate})
    return supply_findings(plan, ledger_of(made, field="Vlei", system=units))


FIELD = {"name": "Vlei", "boundary": "boundary.geojson"}


@pytest.mark.parametrize(
    ("crops", "crop", "stops"),
    [
        pytest.param(["field pea", "lentil"], "lentil", False, id="one of its crops"),
        pytest.param(["Field Pea"], "field pea", False, id="capitals do not matter"),
        pytest.param(["field pea"], "pea", True, id="a part of a name is another crop"),
        pytest.param(["field pea", "lentil"], "barley", True, id="none of its crops"),
        pytest.param([], "barley", False, id="a product for any crop"),
        pytest.param(["field pea"], "", False, id="a plan that names no crop"),
    ],
)
def test_crop(crops: list[str], crop: str, stops: bool) -> None:
    """A product that is not meant for the field's crop is a stop that names both."""
    plan = plan_of(granular(crops=crops), field=FIELD | {"crop": crop})
    found = belonging_findings(plan)
    assert [(one.id, one.severity, one.product) for one in found] == [("crop-mismatch", "stop", "Granular B")] * stops
    if stops:
        assert f"is for {', '.join(crops)}, and the field grows {crop}." in found[0].message


@pytest.mark.source(
    "NIST SP 811 (2008)", "appendix B.8: 1 lb = 0.453 592 37 kg, 1 gal = 3.785 412 L, short ton 2000 lb"
)
@pytest.mark.parametrize(
    ("of", "rate", "short"),
    [
        pytest.param({"on_hand": "150 gal"}, 15, None, id="exactly enough"),
        pytest.param({"on_hand": "149.9 gal"}, 15, 0.1, id="a little too little"),
        pytest.param({"on_hand": "568 L"}, 15, None, id="568 L are 150.05 gal"),
        pytest.param({"on_hand": "567 L"}, 15, 0.214, id="567 L are 149.786 gal"),
        pytest.param({"on_hand": "1600 lb", "density": "10.66 lb/gal"}, 15, None, id="1600 lb are 150.09 gal"),
        pytest.param({"on_hand": "0.79 short_ton", "density": "10.66 lb/gal"}, 15, 1.782, id="1580 lb are 148.218 gal"),
        pytest.param({"on_hand": "0 gal"}, 15, 150, id="nothing"),
        pytest.param({"on_hand": "0 gal"}, 0, None, id="nothing for nothing"),
        pytest.param({}, 15, None, id="not said"),
    ],
)
def test_on_hand(of: dict[str, Any], rate: float, short: float | None) -> None:
    """10 ac at 15 gal/ac take 150 gal; what is on hand may be counted in another unit."""
    found = supply(product(**of), rate)
    if short is None:
        assert found == []
        return
    (finding,) = found
    assert (finding.id, finding.severity) == ("more-than-on-hand", "caution")
    assert f"takes 150 gal of Liquid A; on hand are {of['on_hand']}" in finding.message
    said = float(finding.message.rpartition(": ")[2].split()[0])
    assert said == pytest.approx(short, abs=5e-4)


@pytest.mark.parametrize("acres", range(1, 60))
def test_a_rounding_of_areas_is_no_shortage(acres: int) -> None:
    """Exactly what the pass takes is on hand: the last bit of a sum does not make it too little."""
    assert supply(product(on_hand=f"{13 * acres} gal"), 13, acres=acres) == []


@pytest.mark.source("trade convention for seed units", "S10: 34 000/ac of 80 000-kernel units, computed apart")
@pytest.mark.parametrize(
    ("on_hand", "short"),
    [
        pytest.param("68 unit(80000 seeds)", False, id="68 units for 160 ac"),
        pytest.param("67 unit(80000 seeds)", True, id="one unit too little"),
        pytest.param("5440 thousand_seeds", False, id="in thousands"),
    ],
)
def test_seed_units_on_hand(on_hand: str, short: bool) -> None:
    """S10: 160 ac at 34,000 seeds/ac need 68.00 units; the message counts in both units, without powers of ten."""
    found = supply(seed(on_hand=on_hand), 34000, acres=160)
    assert bool(found) is short
    if short:
        assert "takes 5,440,000 seeds" in found[0].message
        assert f"{on_hand}, that is 5,360,000 seeds: 80,000 seeds too little" in found[0].message


@pytest.mark.parametrize(
    ("on_hand", "short"),
    [
        pytest.param("156 gal", None, id="exactly enough, overlap included"),
        pytest.param("150 gal", "6 gal too little", id="enough for the map, and not for what goes on twice"),
    ],
)
def test_what_goes_on_twice_is_needed_too(on_hand: str, short: str | None) -> None:
    """10 ac at 15 gal/ac take 150 gal, and with 4 % overlap 156."""
    found = supply(product(on_hand=on_hand, overlap="4 %"), 15)
    assert bool(found) is (short is not None)
    if short:
        assert "takes 150 gal of Liquid A, 156 gal with 4 % overlap; on hand are 150 gal" in found[0].message
        assert short in found[0].message
