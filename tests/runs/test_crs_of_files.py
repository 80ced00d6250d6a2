"""The CRS that each file is written in, read back with libraries that vrx does not write with."""

from __future__ import annotations

import json
from pathlib import Path

import pyogrio
import pytest
from support_cases import AREA_HA, RATES, area_ha
from support_fields import SECOND, bench
from support_plans import build_plan

ALL = '[receiver]\nformats = ["shapefile", "geojson", "geopackage"]\n'


@pytest.mark.source("RFC7946", "section 4: the coordinate reference system for all GeoJSON coordinates is WGS 84")
@pytest.mark.parametrize("crs", ["EPSG:32614", "EPSG:26915", "EPSG:4269", "EPSG:4326"])
@pytest.mark.parametrize("files", ["one a product", "one column a product"])
def test_geojson_is_wgs84_whatever_the_others_are_in(
    crs: str, files: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The other files are in the plan's CRS; each format holds the same rates on the same ground, under one name."""
    text = bench(tmp_path, rest=f'{SECOND}{ALL}crs = "{crs}"\nfiles = "{files}"\n')
    out = build_plan(tmp_path, text, capsys)
    assert out.code == 0, out.text
    names = [Path(one["path"]).stem for one in out.said["files"] if one["format"] == "geojson"]
    assert len(names) == (2 if files == "one a product" else 1)
    for form, wanted in (("shapefile", crs), ("geopackage", crs), ("geojson", "EPSG:4326")):
        path = out.file(form)
        assert path.stem == names[0]
        got = pyogrio.read_dataframe(path)
        assert got.crs.to_epsg(min_confidence=20) == int(wanted.removeprefix("EPSG:"))
        rate = "RATE" if files == "one a product" else "Granular"
        by_rate = dict(zip(got[rate], got.geometry, strict=True))
        assert set(by_rate) == set(RATES.values())
        for zone, hectares in AREA_HA.items():
            assert area_ha(by_rate[RATES[zone]], wanted) == pytest.approx(hectares, rel=1e-5)
    manifest = json.loads((tmp_path / "plan-bundle" / "manifest.json").read_text(encoding="utf-8"))
    listed = [
        (each["name"], form, one["crs"])
        for each in manifest["maps"]
        for one in each["written"]
        for form in one["formats"]
    ]
    forms = (("shapefile", crs), ("geopackage", crs), ("geojson", "EPSG:4326"))
    assert sorted(listed) == sorted((name, *of) for name in names for of in forms)
    assert [each["name"] for each in manifest["maps"]] == names


def test_a_grid_and_geojson_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where GeoJSON is the only format there is one map, and it is in WGS 84."""
    out = build_plan(tmp_path, bench(tmp_path, rest='[receiver]\nformats = ["geojson"]\ncrs = "EPSG:32614"\n'), capsys)
    assert out.code == 0, out.text
    assert pyogrio.read_info(out.file("geojson"))["crs"] == "EPSG:4326"
    assert {one["format"] for one in out.said["files"]} & {"shapefile", "geojson", "geopackage"} == {"geojson"}
