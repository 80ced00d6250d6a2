"""The steps of a build are values: kept, sent between processes, and used again for other rates."""

from __future__ import annotations

import pickle
import shutil
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import pytest
import shapely
from support_fields import bench

import vrx
from vrx.errors import VrxError
from vrx.exports.sheets import make_sheets
from vrx.runs.build import Build, build, deliver, prepare, work_out
from vrx.runs.job import read_job

ROOT = Path(__file__).resolve().parents[2] / "sample_fields"
NAMES = ("bergwind", "przy_torze", "quail_bench")


def copied(name: str, folder: Path) -> Path:
    return shutil.copytree(ROOT / name, folder / name) / "plan.toml"


@pytest.mark.parametrize("name", NAMES)
def test_every_step_survives_pickling(name: str, tmp_path: Path) -> None:
    """What a step made, sent to another process and back, gives the same ledger and the same maps."""
    plan = copied(name, tmp_path)
    job = pickle.loads(pickle.dumps(read_job(plan)))
    prepared = pickle.loads(pickle.dumps(prepare(job)))
    worked = pickle.loads(pickle.dumps(work_out(prepared, prepared.job.plan)))
    sheets = pickle.loads(pickle.dumps(make_sheets(worked.prescription, job.plan)))
    built = deliver(prepared, worked, sheets, tmp_path / "by steps", force=False)
    whole = build(plan, out=tmp_path / "at once")
    assert built.ledger == whole.ledger
    assert built.files == whole.files
    assert [one.message for one in built.findings] == [one.message for one in whole.findings]


def test_a_changed_rate_runs_again_from_the_rates_on(tmp_path: Path) -> None:
    """Ground that is cut once gives, with another plan's rates, what a build of that plan from the start gives."""
    first, second = tmp_path / "first", tmp_path / "second"
    text = bench(first)
    (first / "plan.toml").write_text(text, encoding="utf-8")
    changed = bench(second, products=text[text.index("[[product]]") : text.index("[zones]")].replace("200", "120"))
    (second / "plan.toml").write_text(changed, encoding="utf-8")
    prepared = prepare(read_job(first / "plan.toml"))
    shapes = shapely.to_wkb(prepared.cut.zone_map.shapes).tolist()
    again = work_out(prepared, read_job(second / "plan.toml").plan)
    whole = build(second / "plan.toml")
    assert again.ledger == whole.ledger
    assert [row.given for row in again.ledger.products[0].rows] == [85, 115, 120]
    assert shapely.to_wkb(prepared.cut.zone_map.shapes).tolist() == shapes
    before = work_out(prepared, prepared.job.plan)
    assert [row.given for row in before.ledger.products[0].rows] == [85, 115, 140]


def test_builds_run_in_other_processes(tmp_path: Path) -> None:
    """Results and errors come back whole from a pool of processes."""
    plans = [copied("bergwind", tmp_path), copied("przy_torze", tmp_path), tmp_path / "nowhere.toml"]
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        one, other, missing = [pool.submit(build, plan) for plan in plans]
        for found, name in ((one.result(), "Bergwind"), (other.result(), "Przy Torze")):
            assert isinstance(found, Build)
            assert found.ledger.field == name
            assert found.bundle
            assert (found.bundle / "manifest.json").is_file()
        error = missing.exception()
    assert isinstance(error, VrxError)
    assert error.where == str(tmp_path / "nowhere.toml")
    assert error.remedy


def test_the_package_gives_the_same_build() -> None:
    """``vrx.build`` is the function of the runs."""
    assert vrx.build is build
