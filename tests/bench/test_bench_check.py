"""How long a check takes: run with ``pytest tests/bench --benchmark-only -k check``; ``-s`` shows the growth.

Times of one machine say little; ``compare_check_with_build.py`` gives ratios. Each case asserts that the check did
its work, so that a fast failure is no good time.
"""

from __future__ import annotations

import resource
import runpy
import sys
import time
from math import log2
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from vrx.model.check import Check
from vrx.runs.check import check

MAKE_FIELD = Path(__file__).with_name("make_field.py")
ACRES_A_POLYGON = 160 / 2000


def field_of(folder: Path, polygons: int) -> Path:
    """Make a field whose polygons are as large as those of the field of 160 acres and 2,000 polygons."""
    made = folder / str(polygons)
    make_field = runpy.run_path(str(MAKE_FIELD))["make_field"]
    make_field(made, polygons=polygons, acres=polygons * ACRES_A_POLYGON, formats=("shp",))
    return made


def check_soils(folder: Path) -> Check:
    return check([folder / "soils.shp"], boundary=folder / "boundary.shp", unit="lb/ac")


def looked_at(found: Check) -> int:
    """Return how many polygons were measured; overlaps and slivers are in the field, so both are found."""
    assert {"overlap", "sliver"} <= {one.id for one in found.findings}
    assert found.on.shapes is not None
    return int((found.on.shapes.area_m2 > 0).sum())


def peak_mib() -> float:
    usage = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return usage / (2**20 if sys.platform == "darwin" else 2**10)


def test_check_of_2000_polygons(benchmark: BenchmarkFixture, bench_field: Path) -> None:
    """The field of 160 acres within its boundary, without a plan."""
    assert looked_at(benchmark(check_soils, bench_field)) > 1900


def test_check_of_2000_polygons_against_a_plan(benchmark: BenchmarkFixture, bench_field: Path) -> None:
    """The same with product, limits and step."""
    found = benchmark(check, [bench_field / "soils.shp"], plan=bench_field / "plan.toml", unit="lb/ac")
    assert looked_at(found) > 1900
    assert found.on.product is not None


def test_check_of_100000_polygons(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    """A hundred thousand polygons and six million vertices, once."""
    folder = field_of(tmp_path, 100_000)
    assert looked_at(benchmark.pedantic(check_soils, args=(folder,), rounds=1)) > 98_000
    print(f"\npeak of this process {peak_mib():.0f} MiB")


@pytest.mark.parametrize("counts", [(2_000, 10_000, 50_000, 100_000)])
def test_growth_of_a_check(benchmark: BenchmarkFixture, tmp_path: Path, counts: tuple[int, ...]) -> None:
    """What a polygon costs as there are more of them: constant, but for the logarithm of sorting and searching.

    In time of the processor, which other work of a busy computer disturbs less.
    """
    folders = {count: field_of(tmp_path, count) for count in counts}
    costs: dict[int, float] = {}

    def grow() -> None:
        for count, folder in folders.items():
            start = time.process_time()
            measured = looked_at(check_soils(folder))
            costs[count] = (time.process_time() - start) / measured

    benchmark.pedantic(grow, rounds=1)
    first = counts[0]
    print(f"\n{'polygons':>9} {'us each':>9} {'against the first':>18} {'n log n would be':>17}")
    for count, cost in costs.items():
        fair = log2(count) / log2(first)
        print(f"{count:>9,} {1e6 * cost:>9.1f} {cost / costs[first]:>18.2f} {fair:>17.2f}")
