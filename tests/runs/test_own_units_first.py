"""Findings speak in the plan's own units first, and name places to about a millimetre."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import shapely
from support_cases import LATITUDE, LONGITUDE, UTM, feature, moved, polygon, rectangle, write_geojson
from support_fields import bench, keep_out, write_box
from support_plans import build_plan

from vrx.geo.crs import frame_at
from vrx.runs.mend import mend

PAIR = re.compile(r"[0-9] (ha|m2|m|ac|ft2|ft) \([0-9][0-9,.]* (ha|m2|m|ac|ft2|ft)\)")
METRIC, US = {"ha", "m2", "m"}, {"ac", "ft2", "ft"}
RATE = """
[[rate]]
product = "Granular"
by = "table"
table = { A = "10 kg/ha", B = "115 kg/ha", C = "140 kg/ha", bow = "90 kg/ha" }
"""


def trouble(folder: Path, units: str) -> str:
    """Write a field with a sliver, a gap, a bow-tie, a narrow part and a rate below min, and return a plan for it."""
    text = bench(folder, rates=RATE, rest='[machine]\nwidth = "125 m"\n' + keep_out("hut.geojson"))
    write_box(folder / "hut.geojson", -180, 40, -150, 70)
    bow = [(-100.0, 50.0), (-60.0, 90.0), (-60.0, 50.0), (-100.0, 90.0), (-100.0, 50.0)]
    rings = {"A": rectangle(-210, 0, -30, 250), "B": rectangle(-29.8, 0, 90, 250), "C": rectangle(102, 0, 210, 250)}
    zones = [feature(polygon(ring), zone=name) for name, ring in (rings | {"bow": bow}).items()]
    write_geojson(folder / "zones.geojson", zones)
    return text.replace('units = "metric"', f'units = "{units}"\noverlaps = "lowest"\nthin_parts = "report"')


@pytest.mark.parametrize(("units", "own", "other"), [("us", US, METRIC), ("metric", METRIC, US)])
def test_own_units_come_first(
    units: str, own: set[str], other: set[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every area and every width that a finding names stands in the plan's own unit, the other one in brackets."""
    out = build_plan(tmp_path, trouble(tmp_path, units), capsys)
    pairs = {(one["id"], *pair) for one in out.findings for pair in PAIR.findall(one["message"])}
    assert {name for name, _, _ in pairs} >= {
        "gap",
        "sliver",
        "invalid-shape",
        "overlap",
        "rate-below-min",
        "thin-part",
    }
    assert {first for _, first, _ in pairs} <= own
    assert {second for _, _, second in pairs} <= other
    assert len({first for _, first, _ in pairs}) == len(own)


@pytest.mark.parametrize(("units", "unit"), [("us", "ac"), ("metric", "ha")])
def test_no_area_stands_in_one_unit_alone(
    units: str, unit: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where a finding names hectares it names acres too, and the plan's own unit before the other."""
    out = build_plan(tmp_path, trouble(tmp_path, units), capsys)
    for one in out.findings:
        areas = re.findall(r"[0-9] (ha|ac)\b", one["message"])
        assert areas.count("ha") == areas.count("ac"), one["message"]
        assert not areas or areas[0] == unit


@pytest.mark.parametrize(
    ("crs", "decimals"), [pytest.param("EPSG:4326", 8, id="degrees"), pytest.param(UTM, 3, id="metres")]
)
def test_a_place_is_named_to_about_a_millimetre(crs: str, decimals: int) -> None:
    """Where a zone crosses itself is said with the decimals that its CRS is worth."""
    bow = np.array([shapely.Polygon(moved([(0.0, 0.0), (7.0, 9.0), (7.0, 0.0), (0.0, 8.0)], crs))], dtype=object)
    (mended,) = mend(bow, crs, frame_at(LONGITUDE, LATITUDE), beside=()).repairs
    assert re.fullmatch(rf"self-intersects at -?\d+\.\d{{1,{decimals}}}, -?\d+\.\d{{1,{decimals}}}", mended.reason)
