"""A check as JSON: areas that are known by construction, nulls for what is not known, and never NaN."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from support_cases import area_ha
from support_check_pages import CASES, stop, unreadable, write_plan, write_zones

from vrx.model.check import Check
from vrx.reports.check_json import check_json
from vrx.runs.check import check


def said(made: Check) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(json.dumps(check_json(made), allow_nan=False))
    return found


def test_a_map_is_told_with_its_rates(tmp_path: Path) -> None:
    """4.5, 3 and 3 ha by construction, by their rates from the lowest up, to 1e-6 (file coordinates are degrees)."""
    made = said(check([write_zones(tmp_path / "map.geojson")], plan=write_plan(tmp_path), unit="kg/ha"))
    told = made["map"]
    assert [one["rate"] for one in told["rates"]] == [85, 115, 140]
    assert [one["area_m2"] for one in told["rates"]] == pytest.approx([45_000, 30_000, 30_000], rel=1e-6)
    assert told["geodesic_area_m2"] == pytest.approx(105_000, rel=1e-6)
    assert {key: told[key] for key in ("name", "features", "crs", "column", "column_from", "unit", "unit_from")} == {
        "name": "map.geojson", "features": 3, "crs": "EPSG:4326", "column": "rate", "column_from": "name",
        "unit": "kg/ha", "unit_from": "said",
    }  # fmt: skip
    assert made["product"] == "Granular"
    assert list(made) == ["verdict", "map", "product", "findings", "not_checked"]


def test_ground_counts_once(tmp_path: Path) -> None:
    """A over B by 20 x 250 m = 0.5 ha: whole ground once; of one rate once too; each of two rates has its own."""
    differing = said(check([write_zones(tmp_path / "map.geojson", overlap_m=20.0)], unit="kg/ha"))["map"]
    assert differing["geodesic_area_m2"] == pytest.approx(105_000, rel=1e-6)
    assert [one["area_m2"] for one in differing["rates"]] == pytest.approx([50_000, 30_000, 30_000], rel=1e-6)
    same = said(check([write_zones(tmp_path / "same.geojson", overlap_m=20.0, rates=(85, 85, 140))], unit="kg/ha"))
    assert [one["area_m2"] for one in same["map"]["rates"]] == pytest.approx([75_000, 30_000], rel=1e-6)


def test_areas_are_geodesic(tmp_path: Path) -> None:
    """Beside Karney's polygon areas through pyproj, record by record."""
    import shapely

    path = write_zones(tmp_path / "map.geojson")
    shapes = [shapely.geometry.shape(one["geometry"]) for one in json.loads(path.read_text())["features"]]
    told = said(check([path]))["map"]["rates"]
    expected = [area_ha(one, "EPSG:4326") * 1e4 for one in shapes]
    assert [one["area_m2"] for one in told] == pytest.approx(expected, rel=1e-6)


def test_ground_without_a_rate_comes_last(tmp_path: Path) -> None:
    """Null, no NaN, and not 0."""
    rates = said(check([write_zones(tmp_path / "map.geojson", rates=(None, 0, 140))], unit="kg/ha"))["map"]["rates"]
    assert [one["rate"] for one in rates] == [0, 140, None]
    assert rates[-1]["area_m2"] == pytest.approx(45_000, rel=1e-6)


def test_a_map_that_could_not_be_read_has_nulls(tmp_path: Path) -> None:
    """Its name is all that is known of it."""
    assert said(unreadable(tmp_path))["map"] == {
        "name": "map.geojson", "features": None, "crs": None, "column": None, "column_from": None, "unit": None,
        "unit_from": None, "geodesic_area_m2": None, "rates": [],
    }  # fmt: skip


def test_findings_are_those_of_every_other_command(tmp_path: Path) -> None:
    """With id, severity, place and records."""
    made = said(stop(tmp_path))
    assert made["verdict"] == "stop"
    first = made["findings"][0]
    assert (first["id"], first["severity"], first["features"]) == ("overlap", "stop", [1, 2])
    assert first["where"]["type"] == "Polygon"


@pytest.mark.parametrize("name", CASES)
def test_every_check_is_json(tmp_path: Path, name: str) -> None:
    """Also of names that hold markup, and of maps that are none."""
    made = CASES[name](tmp_path)
    told = said(made)
    assert [one["id"] for one in told["findings"]] == [one.id for one in made.findings]
    assert told["not_checked"] == [{"id": one.id, "why": one.why} for one in made.not_checked]
