"""What a command prints with ``--json``."""

from __future__ import annotations

import json

import shapely
from support_products import granular, product
from support_zone_maps import HA, build_of, plan_of, prescription_of, zone_map

from vrx.errors import InputError, PlanError, Problems
from vrx.model.finding import Finding
from vrx.reports.as_json import build_json, errors_json, finding_json


def test_limits_stand_in_the_unit_of_the_step() -> None:
    """min in another unit than the step is turned into it, so that the numbers of a product agree."""
    of = product(min="100 L/ha", max="20 gal/ac", step="0.5 gal/ac", step_from="zero", off_allowed=False)
    plan = plan_of(of, units="us")
    (said,) = build_json(build_of(plan, prescription_of(zone_map("A"), plan, {"A": 15})))["products"]  # type: ignore[misc]  # a list of one
    assert (said["unit"], said["max"], said["step"], said["off_allowed"]) == ("gal/ac", 20, 0.5, False)
    assert round(said["min"], 6) == 10.690664  # 100 / 9.353 958 8, computed apart


def test_a_build_is_plain_json() -> None:
    """Dictionaries, lists, text and numbers; a missing rate is null and never NaN."""
    plan = plan_of(granular())
    found = build_json(build_of(plan, prescription_of(zone_map("A B"), plan, {"A": 60, "B": None})))
    read = json.loads(json.dumps(found, allow_nan=False))
    assert read["bundle"] is None
    assert read["files"] == []
    assert [(zone["zone"], zone["wanted"], zone["given"]) for zone in read["products"][0]["zones"]] == [
        ("A", 60, 60),
        ("B", None, 0),
    ]
    assert read["products"][0]["to_buy"][0] == {"amount": 60, "unit": "kg"}


def test_a_finding_has_its_place_as_geojson() -> None:
    """A geometry on WGS 84, or null; product, zone and records only where there are some."""
    bare = finding_json(Finding(id="gap", severity="caution", message="A gap."))
    assert bare == {
        "id": "gap", "severity": "caution", "message": "A gap.", "remedy": "", "area_m2": None, "where": None,
    }  # fmt: skip
    plan = plan_of(granular())
    made = prescription_of(zone_map("A A+B B"), plan, {"A": 60, "B": 90})
    (stop,) = made.findings
    said = finding_json(stop)
    assert (said["product"], said["zone"], said["features"]) == ("Granular B", "A+B", [1, 2])
    assert said["area_m2"] == HA
    place = shapely.geometry.shape(said["where"])  # type: ignore[arg-type]  # a geometry of GeoJSON
    assert place.contains(shapely.Point(21.4, -31.2))


def test_errors_keep_problem_remedy_and_place() -> None:
    """Each error of several on its own."""
    several = Problems([PlanError("No rate.", remedy="Give one.", where="plan.toml"), InputError("No shape.")])
    assert errors_json(several.each) == {
        "errors": [
            {"problem": "No rate.", "remedy": "Give one.", "where": "plan.toml"},
            {"problem": "No shape.", "remedy": "", "where": ""},
        ]
    }
