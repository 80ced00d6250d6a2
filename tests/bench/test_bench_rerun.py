"""How long a changed rate takes on 500 zones and two products: ``pytest tests/bench --benchmark-only -k rerun``.

The aim is 150 ms for rates, limits, joins and ledger, so that a page may edit rates live. Times of one machine
say little; nothing here is asserted about them.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from vrx.model.plan import Plan
from vrx.runs.build import Prepared, prepare, work_out
from vrx.runs.job import read_job

SECOND = """
[[product]]
name = "Gypsum"
form = "granular"
use = "other"
min = "400 lb/ac"
max = "1600 lb/ac"
step = "100 lb/ac"

[[rate]]
product = "Gypsum"
by = "line"
of = "om"
points = [[0.5, "1650 lb/ac"], [6.0, "300 lb/ac"]]

[machine]
width = "{width}"
"""


def two_products(folder: Path, plan: str, width: str, **top: str) -> Prepared:
    """Read and cut the field with a second product, by a line, and a machine of some width."""
    text = (folder / plan).read_text(encoding="utf-8")
    keys = "".join(f'{key} = "{value}"\n' for key, value in top.items())
    path = folder / f"two_{plan}"
    path.write_text(keys + text + SECOND.format(width=width), encoding="utf-8")
    return prepare(read_job(path))


def other_rates(plan: Plan) -> Plan:
    """Return the plan with other limits, as someone who edits it would send it."""
    first = plan.product[0].model_copy(update={"rounding": "down"})
    return plan.model_copy(update={"product": (first, *plan.product[1:])})


@pytest.mark.parametrize(
    ("plan", "width", "top"),
    [
        pytest.param("plan.toml", "30 ft", {}, id="zones by name"),
        pytest.param("plan_polygons.toml", "30 ft", {}, id="a rate for each polygon"),
        pytest.param("plan_polygons.toml", "120 ft", {}, id="many thin parts joined"),
        pytest.param("plan_polygons.toml", "120 ft", {"thin_parts": "report"}, id="many thin parts reported"),
    ],
)
def test_rerun_of_two_products(
    benchmark: BenchmarkFixture, small_field: Path, plan: str, width: str, top: dict[str, Any]
) -> None:
    """Both products from wanted rates to the ledger, on ground of about 500 zones that is cut already."""
    prepared = two_products(small_field, plan, width, **top)
    assert len(prepared.cut.zone_map.shapes) > 500
    changed = other_rates(prepared.job.plan)
    worked = benchmark(work_out, prepared, changed)
    assert [bool(one.total_given > 0) for one in worked.ledger.products] == [True, True]
