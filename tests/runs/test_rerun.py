"""The steps from the rates on, run again: as a fresh build, on ground that was cut once, also in another process."""

from __future__ import annotations

import json
import pickle
import re
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import pytest
import shapely
from support_cases import RATES, feature, polygon, rectangle, write_geojson, write_overlap, zone_ring
from support_fields import SECOND, SPREADER, bench, keep_out, write_box
from support_plans import BY_COLUMN, plan_text

from vrx.errors import PlanError, Problems
from vrx.exports.sheets import Sheets, make_sheets
from vrx.model.receiver import Receiver
from vrx.runs.build import Prepared, Worked, deliver, prepare, work_out
from vrx.runs.job import read_job

BY_FILE = """
[[rate]]
product = "Granular"
by = "table"
table = "one.csv"
column = "kg"
unit = "kg/ha"
"""
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
    """Write the field with a hut and a bare patch to keep out of, and return a plan with two products for it."""
    write_box(folder / "hut.geojson", -180, 40, -150, 70)
    write_box(folder / "patch.geojson", -30, 0, 90, 60)
    kept = keep_out("hut.geojson", set_back='"10 m"', products='["Second"]')
    kept += keep_out("patch.geojson", products='["Granular"]')
    text = bench(folder, rest=kept + SECOND, products=SPREADER + 'on_hand = "9 tonne"\n')
    rings = {"A": zone_ring("A"), "B": rectangle(-30, 50, 90, 250), "C": zone_ring("C")}
    write_geojson(
        folder / "zones.geojson", [feature(polygon(ring), zone=zone, rate=RATES[zone]) for zone, ring in rings.items()]
    )
    return text.replace("season = 2027", 'season = 2027\ncrop = "barley"')


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
        pytest.param('use = "fertiliser"', 'use = "fertiliser"\ncrops = ["lentil"]', id="a product for another crop"),
        pytest.param('on_hand = "9 tonne"', 'on_hand = "9 kg"', id="less on hand"),
        pytest.param("season = 2027", 'season = 2027\nstated_area = "20 ha"', id="another stated area"),
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
    assert prepared.findings == fresh.findings
    assert again(prepared, plan) != again(prepared, written(tmp_path, text))


def test_products_decide_which_bare_ground_matters(tmp_path: Path) -> None:
    """A gap in a keep-out of the first product counts as long as the second one goes there."""
    prepared = prepare(read_job(written(tmp_path, text_of(tmp_path))))
    plan = prepared.job.plan
    alone = plan.model_copy(update={"rate": plan.rate[:1]})
    everywhere = plan.keep_out[1].model_copy(update={"products": ()})
    found = {
        name: {one.id for one in work_out(prepared, of).findings} for name, of in (("both", plan), ("first", alone))
    }
    assert "gap" in found["both"]
    assert "gap" not in found["first"]
    with pytest.raises(PlanError, match="another keep_out"):
        work_out(prepared, plan.model_copy(update={"keep_out": (plan.keep_out[0], everywhere)}))


def test_the_plan_that_was_worked_out_is_the_one_that_is_written(tmp_path: Path) -> None:
    """Formats, revision and products of the bundle are the changed plan's, and no file's text is passed off as it."""
    prepared = prepare(read_job(written(tmp_path, text_of(tmp_path))))
    plan = prepared.job.plan
    first = plan.product[0].model_copy(update={"crops": ("barley",), "hand_rates": (plan.product[0].max,)})
    changed = plan.model_copy(
        update={
            "product": (first, *plan.product[1:]),
            "receiver": Receiver(formats=("geojson",)),
            "revision": 2,
            "field": plan.field.model_copy(update={"crop": "barley"}),
        }
    )
    for of, formats, text in (
        (plan, {"shapefile", "geojson"}, (tmp_path / "plan.toml").read_text(encoding="utf-8")),
        (changed, {"geojson"}, None),
    ):
        worked = work_out(prepared, of)
        bundle = tmp_path / f"bundle {of.revision}"
        built = deliver(prepared, worked, make_sheets(worked.prescription, of), bundle, force=False)
        assert built.plan == of
        manifest = json.loads((bundle / "manifest.json").read_text(encoding="utf-8"))
        assert {one["format"] for one in manifest["outputs"]} & {"shapefile", "geojson", "geopackage"} == formats
        assert (manifest["plan"]["revision"], manifest["plan"]["text"]) == (of.revision, text)
        assert bool(manifest["products"][0]["hand_rates"]) is (of is changed)


def test_a_crop_that_does_not_fit_any_more_stops(tmp_path: Path) -> None:
    """Another crop in the changed plan is looked at, and nothing is written."""
    crops = SPREADER + 'on_hand = "9 tonne"\ncrops = ["barley"]\n'
    text = text_of(tmp_path).replace(SPREADER + 'on_hand = "9 tonne"\n', crops)
    prepared = prepare(read_job(written(tmp_path, text)))
    plan = prepared.job.plan
    changed = plan.model_copy(update={"field": plan.field.model_copy(update={"crop": "lentil"})})
    for of, stops in ((plan, False), (changed, True)):
        worked = work_out(prepared, of)
        built = deliver(prepared, worked, make_sheets(worked.prescription, of), tmp_path / "bundle", force=True)
        assert ("crop-mismatch" in {one.id for one in built.findings}) is stops
        assert (built.bundle is None) is stops


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        pytest.param('name = "zone"', "", "zones.name", id="zones by another name"),
        pytest.param('name = "zone"', 'name = "zone"\nlayer = "zones"', "zones.layer", id="a layer by its name"),
        pytest.param('units = "metric"', 'units = "us"', "units", id="other units"),
        pytest.param("[field]", 'fill_gaps = "2 ha"\n[field]', "fill_gaps", id="larger gaps filled"),
        pytest.param("[field]", 'grid_crs = "EPSG:5070"\n[field]', "grid_crs", id="another grid"),
        pytest.param('"10 m"', '"11 m"', "keep_out", id="another set-back"),
        pytest.param('"boundary.geojson"', '["boundary.geojson", "hut.geojson"]', "field.boundary", id="more ground"),
    ],
)
def test_a_plan_with_other_ground_is_refused(old: str, new: str, key: str, tmp_path: Path) -> None:
    """Ground that was cut for one plan never passes for another plan's: the error names the key."""
    text = text_of(tmp_path)
    prepared = prepare(read_job(written(tmp_path, text)))
    assert old in text
    changed = read_job(written(tmp_path, text.replace(old, new, 1))).plan
    with pytest.raises(PlanError, match=f"another {re.escape(key)}\\."):
        work_out(prepared, changed)


def test_a_table_that_was_not_read_is_refused(tmp_path: Path) -> None:
    """Another file of rates than the one that was read: an error, and not the old rates."""
    text = text_of(tmp_path).replace(BY_COLUMN.format(column="rate"), BY_FILE)
    for name, rate in (("one.csv", 60), ("two.csv", 90)):
        (tmp_path / name).write_text(f"zone,kg\nA,{rate}\nB,{rate}\nC,{rate}\n", encoding="utf-8")
    prepared = prepare(read_job(written(tmp_path, text)))
    work_out(prepared, prepared.job.plan)
    changed = read_job(written(tmp_path, text.replace("one.csv", "two.csv"))).plan
    with pytest.raises(Problems, match=r"two\.csv was not read"):
        work_out(prepared, changed)


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
