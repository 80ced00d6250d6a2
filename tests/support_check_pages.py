"""Checks to show: a real map of three zones whose areas are known, with findings written by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import shapely
from support_cases import RATES, feature, moved, polygon, rectangle, write_geojson, zone_ring
from support_fields import bench
from support_html_content import HARD_NAME

from vrx.model.check import Check, NotChecked
from vrx.model.finding import Finding
from vrx.runs.check import check


def write_zones(
    path: Path, *, overlap_m: float = 0.0, rates: Sequence[Any] = tuple(RATES.values()), **more: Any
) -> Path:
    """Write zones A, B, C; A reaches over B by so many metres, 250 m long."""
    rings = {zone: zone_ring(zone) for zone in "ABC"}
    rings["A"] = rectangle(-210.0, 0.0, -30.0 + overlap_m, 250.0)
    features = [
        feature(polygon(rings[zone]), zone=zone, rate=rate, **more) for zone, rate in zip("ABC", rates, strict=True)
    ]
    return write_geojson(path, features)


def write_plan(folder: Path) -> Path:
    """Write the plan of the same field, for a spreader of 20 to 200 kg/ha in steps of 5."""
    plan = folder / "plan.toml"
    plan.write_text(bench(folder), encoding="utf-8")
    return plan


def finding(severity: Any = "caution", **changes: Any) -> Finding:
    """Return a finding on 30 x 30 m of zone A."""
    where = shapely.Polygon(moved(rectangle(-150.0, 60.0, -120.0, 90.0), "EPSG:4326"))
    made = Finding(
        id="overlap",
        severity=severity,
        message="A (record 1) and B (record 2) overlap on 0.0900 ha.",
        remedy="Have its shapes drawn so that they meet.",
        area_m2=900.0,
        where=where,
        features=(1, 2),
    )
    return replace(made, **changes)


def with_findings(made: Check, *findings: Finding, not_checked: Sequence[NotChecked] = ()) -> Check:
    """Return a check that found these and nothing else."""
    return replace(made, findings=tuple(findings), not_checked=tuple(not_checked))


def known(folder: Path) -> Check:
    """Return a check for which all is known: plan, product, boundary, rates."""
    return check([write_zones(folder / "map.geojson")], plan=write_plan(folder), unit="kg/ha")


def clear(folder: Path) -> Check:
    return with_findings(known(folder))


def caution(folder: Path) -> Check:
    unseen = NotChecked(id="product-changed", why="The bundle that the map comes from was not found.")
    return with_findings(known(folder), finding(), finding("note", id="sliver", remedy=""), not_checked=[unseen])


def stop(folder: Path) -> Check:
    others = (finding(id="gap", remedy=f"Do thing {at}.", where=None, message=f"Thing {at}.") for at in range(3))
    return with_findings(known(folder), finding("stop"), finding("stop", remedy=""), *others)


def no_product(folder: Path) -> Check:
    made = check([write_zones(folder / "map.geojson")])
    reasons = (
        ("overlap", "No product is known: name one."),
        ("gap", "No boundary is known."),
        ("sliver", "No boundary is known."),
    )
    return with_findings(made, not_checked=[NotChecked(id=key, why=why) for key, why in reasons])


def unreadable(folder: Path) -> Check:
    path = folder / "map.geojson"
    path.write_text('{"type": "FeatureCollection", "features": [', encoding="utf-8")
    made = check([path], plan=write_plan(folder))
    damaged = finding(
        "stop", id="unreadable", message="It ends too early.", remedy="Copy it again.", where=None, features=()
    )
    return with_findings(made, damaged)


def elsewhere(folder: Path) -> Check:
    made = check([write_zones(folder / "map.geojson")], unit="kg/ha")
    far = write_geojson(folder / "far.geojson", [feature(polygon(rectangle(9000.0, 0.0, 9400.0, 250.0)))])
    return with_findings(
        check([folder / "map.geojson"], boundary=far, unit="kg/ha"), *made.findings, finding("stop", id="other-field")
    )


def many(folder: Path) -> Check:
    """Return 400 records of as many rates, one of them without, with 60 findings of three ids."""
    features = []
    for at in range(400):
        x, y = 20.0 * (at % 20) - 210.0, 12.0 * (at // 20)
        ring = rectangle(x, y, x + 20.0, y + 12.0)
        features.append(feature(polygon(ring), zone=f"cell {at}", rate=None if at == 7 else round(20 + at / 7, 3)))
    made = check([write_geojson(folder / "map.geojson", features)], unit="kg/ha")
    ids = ("overlap", "gap", "tiny-part")
    return with_findings(
        made,
        *(
            finding("stop", id=ids[at % 3], message=f"Finding number {at}.", remedy=f"Do {at // 20}.")
            for at in range(60)
        ),
    )


def hard_names(folder: Path) -> Check:
    features = [feature(polygon(zone_ring(zone)), zone=f"{HARD_NAME}{zone}", rate=RATES[zone]) for zone in "ABC"]
    path = write_geojson(folder / "a<b>&'c.geojson", features)
    plain = finding("stop", message=HARD_NAME, remedy=HARD_NAME, zone=HARD_NAME)
    return with_findings(check([path]), plain, not_checked=[NotChecked(id="gap", why=HARD_NAME)])


CASES = {
    "clear": clear,
    "caution": caution,
    "stop": stop,
    "no product": no_product,
    "unreadable": unreadable,
    "elsewhere": elsewhere,
    "many": many,
    "hard names": hard_names,
}
