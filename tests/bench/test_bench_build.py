"""How long the steps of a build take: run with ``pytest tests/bench --benchmark-only``.

Times of one machine say little; ``compare_with_geopandas.py`` gives ratios. Each case asserts that the step
did its work, so that a fast failure is no good time.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from vrx.exports.sheets import make_sheets
from vrx.inputs.read import read_layer
from vrx.runs.build import deliver, prepare, work_out
from vrx.runs.job import read_job

ACRE_M2 = 4046.8564224


@pytest.mark.parametrize("end", ["shp", "geojson", "gpkg"])
def test_reading_2000_polygons(benchmark: BenchmarkFixture, bench_field: Path, end: str) -> None:
    """A zone layer of 2,000 polygons and 118,000 vertices, from its file to shapes and cells."""
    layer = benchmark(read_layer, bench_field / f"soils.{end}")
    assert len(layer.shapes) > 1900


def test_cutting_2000_polygons(benchmark: BenchmarkFixture, bench_field: Path) -> None:
    """From layers to a valid coverage of the field, overlaps and gaps included."""
    job = read_job(bench_field / "plan.toml")
    prepared = benchmark(prepare, job)
    assert prepared.cut.zone_map.area_m2.sum() == pytest.approx(160 * ACRE_M2, rel=1e-3)


@pytest.mark.parametrize("plan", ["plan.toml", "plan_polygons.toml"])
def test_a_changed_rate_on_500_zones(benchmark: BenchmarkFixture, small_field: Path, plan: str) -> None:
    """Rates, limits, joins, ledger and written shapes again, on ground that is cut already: under 150 ms."""
    prepared = prepare(read_job(small_field / plan))
    assert len(prepared.cut.zone_map.shapes) > 500

    def again() -> int:
        worked = work_out(prepared, prepared.job.plan)
        return len(make_sheets(worked.prescription, prepared.job.plan).sheets[0].shapes)

    assert benchmark(again) >= 1


def test_writing_and_reading_back(benchmark: BenchmarkFixture, bench_field: Path, tmp_path: Path) -> None:
    """Shapefile and GeoJSON of a map with a rate for every polygon, read back, and the bundle put in place."""
    prepared = prepare(read_job(bench_field / "plan_polygons.toml"))
    worked = work_out(prepared, prepared.job.plan)
    sheets = make_sheets(worked.prescription, prepared.job.plan)
    build = benchmark(deliver, prepared, worked, sheets, tmp_path / "bundle", force=True)
    assert build.bundle is not None
