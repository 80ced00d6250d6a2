"""Records without ground: each is named once."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from support_cases import feature, polygon, write_geojson, zone_ring
from support_fields import bench
from support_plans import build_plan


@pytest.mark.parametrize(
    ("changes", "which"),
    [
        pytest.param({}, "zone D (record 4)", id="a zone with a name"),
        pytest.param({"name": ""}, "record 4", id="a layer that names no zones"),
    ],
)
def test_a_record_without_a_shape_is_named_once(
    changes: dict[str, Any], which: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By its zone and its record, or by its record alone."""
    plan = bench(tmp_path, **changes)
    drawn = [feature(polygon(zone_ring(zone)), zone=zone, rate=85) for zone in "ABC"]
    write_geojson(tmp_path / "zones.geojson", [*drawn, feature(None, zone="D", rate=85)])
    out = build_plan(tmp_path, plan, capsys)
    (finding,) = out.named("no-shape")
    assert finding["message"].startswith(f"zones.geojson: {which} has no shape")
