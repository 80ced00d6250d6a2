"""The steps from the rates on, run again: as a fresh build, on ground that was cut once, also in another process."""

from __future__ import annotations

import pickle
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import pytest
import shapely
from support_cases import write_overlap
from support_fields import SECOND, SPREADER, bench, keep_out, write_box
from support_plans import plan_text

from vrx.exports.sheets import Sheets, make_sheets
from vrx.runs.build import Prepared, Worked, prepare, work_out
from vrx.runs.job import read_job

SPAWN = get_context("spawn")


def written(folder: Path, text: str) -> Path:
    path = folder / "plan.toml"
    path.write_text(text, encoding="utf-8")
    return path


def fingerprint(worked: Worked, sheets: Sheets) -> dict[str, object]:
    """Return all that a bundle and a report are made of, as plain values."""
    return {
        "ledger": worked.ledger,
        "findings": [(one.id, one.severity, one.message) for one in (*worked.findings, *sheets.findings)],
        "numbers": [one.numbers.tolist() for one in worked.prescription.maps],
        "why": [one.why for one in worked.prescription.maps],
        "pieces": shapely.to_wkb(worked.prescription.zone_map.shapes).tolist(),
        "names": [sheet.name for sheet in sheets.sheets],
        "shapes": [shapely.to_wkb(sheet.shapes).tolist() for sheet in sheets.sheets],
        "counts": [[column.counts.tolist() for column in sheet.columns] for sheet in sheets.sheets],
    }


def again(prepared: Prepared, plan: Path) -> dict[str, object]:
    """Run from the rates on, with another plan on the ground that is there."""
    changed = read_job(plan).plan
    worked = work_out(prepared, changed)
    return fingerprint(worked, make_sheets(worked.prescription, changed))


def text_of(folder: Path) -> str:
    """Write the field with a hut to keep out of, and return a plan with two products for it."""
    write_box(folder / "hut.geojson", -180, 40, -150, 70)
    return bench(folder, rest=keep_out("hut.geojson", set_back='"10 m"', products='["Second"]') + SECOND)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        pytest.param('B = "20.5 kg/ha"', 'B = "33 kg/ha"', id="a rate"),
        pytest.param('B = "20.5 kg/ha"', 'B = "0 kg/ha"', id="a rate of 0"),
        pytest.param('max = "200 kg/ha"', 'max = "120 kg/ha"', id="a limit"),
        pytest.param('step = "5 kg/ha"', 'step = "12.5 kg/ha"\nstep_from = "min"', id="a step"),
        pytest.param("[field]", 'smallest_area = "35000 m2"\n[field]', id="the smallest area"),
        pytest.param("[zones]", '[machine]\nwidth = "160 m"\n[zones]', id="a wider machine"),
        pytest.param("[zones]", '[receiver]\nunit = "lb/ac"\nkeep_outs = "hole"\n[zones]', id="another receiver"),
        pytest.param("[zones]", '[receiver]\nfiles = "one column a product"\n[zones]', id="one file"),
    ],
)
def test_a_changed_plan_gives_what_a_fresh_build_gives(old: str, new: str, tmp_path: Path) -> None:
    """The ground that was cut for the first plan gives every figure of the second, to the last bit."""
    text = text_of(tmp_path)
    prepared = prepare(read_job(written(tmp_path, text)))
    assert old in text
    plan = written(tmp_path, text.replace(old, new, 1))
    fresh = prepare(read_job(plan))
    assert again(prepared, plan) == again(fresh, plan)
    assert again(prepared, plan) != again(prepared, written(tmp_path, text))


def test_running_again_leaves_the_ground_as_it_was(tmp_path: Path) -> None:
    """Other rates, then the first ones: the same figures as before, so nothing was changed in place."""
    text = text_of(tmp_path)
    prepared = prepare(read_job(written(tmp_path, text)))
    before = again(prepared, tmp_path / "plan.toml")
    kept = pickle.dumps(prepared)
    plan = written(tmp_path, text.replace('B = "20.5 kg/ha"', 'B = "60 kg/ha"') + '[machine]\nwidth = "160 m"\n')
    assert again(prepared, plan) != before
    assert again(prepared, written(tmp_path, text)) == before
    assert again(pickle.loads(kept), tmp_path / "plan.toml") == before


@pytest.mark.slow
def test_another_process_comes_to_the_same(tmp_path: Path) -> None:
    """Prepared ground, pickled and worked out in a process that was started anew, gives the same result."""
    prepared = prepare(read_job(written(tmp_path, text_of(tmp_path))))
    plan = prepared.job.plan
    here = work_out(prepared, plan)
    with ProcessPoolExecutor(1, mp_context=SPAWN) as pool:
        there = pool.submit(work_out, pickle.loads(pickle.dumps(prepared)), plan).result()
        sheets = pool.submit(make_sheets, there.prescription, plan).result()
    assert fingerprint(there, sheets) == fingerprint(here, make_sheets(here.prescription, plan))
    for one, other in zip(there.prescription.maps, here.prescription.maps, strict=True):
        assert one.product == other.product
        assert np.array_equal(one.wanted, other.wanted, equal_nan=True)


def test_overlaps_are_settled_again(tmp_path: Path) -> None:
    """Pieces of an overlap remember their zones: another rule needs no other cut."""
    write_overlap(tmp_path)
    text = plan_text(zones="overlap.geojson", boundary="boundary.geojson", products=SPREADER, top='overlaps = "lowest"')
    prepared = prepare(read_job(written(tmp_path, text)))
    totals = []
    for rule in ("lowest", "highest"):
        plan = written(tmp_path, text.replace('"lowest"', f'"{rule}"'))
        found = again(prepared, plan)
        assert found == again(prepare(read_job(plan)), plan)
        totals.append(found["ledger"].products[0].total_given)  # type: ignore[attr-defined]  # a plain dict of results
    assert totals[0] < totals[1]
