"""A file of several layers: the plan says which one is meant."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
import shapely
from support_cases import AREA_HA, RATES, Ring, moved, rectangle, write_geopackage, zone_ring
from support_fields import FIELD_HA, bench, keep_out
from support_plans import Outcome, build_plan

Capture = pytest.CaptureFixture[str]
POND = rectangle(0.0, 100.0, 40.0, 130.0)


def wkb(ring: Ring) -> bytes:
    found: bytes = shapely.to_wkb(shapely.Polygon(moved(ring, "EPSG:4326")), byte_order=1)
    return found


def farm(folder: Path) -> Path:
    """Write a GeoPackage with the field, two zone layers (the wrong one at twice the rates) and a pond."""
    zones = {zone: wkb(zone_ring(zone)) for zone in RATES}
    layers = {
        "field": [(wkb(rectangle(-210.0, 0.0, 210.0, 250.0)), "", None)],
        "soil_2019": [(shape, zone, 2.0 * RATES[zone]) for zone, shape in zones.items()],
        "soil_2027": [(shape, zone, float(RATES[zone])) for zone, shape in zones.items()],
        "ponds": [(wkb(POND), "", None)],
    }
    return write_geopackage(folder / "farm.gpkg", layers, srs=4326)


def built(folder: Path, capsys: Capture, *, boundary: str, zones: str, pond: str) -> Outcome:
    farm(folder)
    text = bench(folder, boundary="farm.gpkg", zones="farm.gpkg", rest=keep_out("farm.gpkg") + pond)
    text = text.replace("\n[[product]]", f"{boundary}\n[[product]]").replace(
        'name = "zone"\n', f'name = "zone"\n{zones}\n'
    )
    return build_plan(folder, text, capsys)


def test_each_layer_of_one_file_is_found_by_its_name(tmp_path: Path, capsys: Capture) -> None:
    """Boundary, zones and keep-out from one GeoPackage; capitals do not matter."""
    names = {"boundary": 'layer = "field"', "zones": 'layer = "SOIL_2027"', "pond": 'layer = "ponds"'}
    out = built(tmp_path, capsys, **names)
    assert out.code == 0, out.text
    assert out.given() == RATES
    assert out.said["field"]["boundary_area_m2"] == pytest.approx(FIELD_HA * 1e4, rel=1e-6)
    assert out.said["field"]["keep_out_area_m2"] == pytest.approx(40 * 30, rel=1e-6)
    assert out.hectares()["A"] == pytest.approx(AREA_HA["A"], rel=1e-6)


def test_without_a_name_every_layer_is_listed_and_the_remedy_is_true(tmp_path: Path, capsys: Capture) -> None:
    """Each of the three is told, with the key that helps."""
    out = built(tmp_path, capsys, boundary="", zones='layer = "soil"', pond="")
    assert out.code == 2
    assert "It has several layers: 'field', 'ponds', 'soil_2019', 'soil_2027'" in out.text
    assert "It has no layer 'soil'" in out.text
    assert all('Name one of them, as layer = "..."' in one["remedy"] for one in out.said["errors"])


def test_a_file_in_a_folder_is_found_by_its_name(tmp_path: Path, capsys: Capture) -> None:
    """A folder of several files is a file of several layers."""
    plan = bench(tmp_path, zones="layers")
    (tmp_path / "layers").mkdir()
    for name in ("soil.geojson", "old.geojson"):
        shutil.copy(tmp_path / "zones.geojson", tmp_path / "layers" / name)
    unnamed = build_plan(tmp_path, plan, capsys)
    assert (unnamed.code, "Name one of them, as layer" in unnamed.text) == (2, True)
    out = build_plan(tmp_path, plan.replace('name = "zone"\n', 'name = "zone"\nlayer = "soil"\n'), capsys)
    assert out.code == 0, out.text
    assert out.given() == RATES
