"""``vrx build``: what it prints, how it ends, what it writes and what it leaves alone."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
import shapely
from support_cases import AREA_HA, RATES, write_no_prj, write_overlap
from support_fields import FIELD_HA, SECOND, bench, digests, keep_out, write_box
from support_plans import Outcome, build_plan, plan_text

from vrx.cli.main import main

FIELD_KEYS = {
    "name",
    "boundary_area_m2",
    "keep_out_area_m2",
    "geodesic_area_m2",
    "grid_area_m2",
    "grid_crs",
}
PRODUCT_KEYS = {
    "name",
    "unit",
    "min",
    "max",
    "step",
    "step_from",
    "off_allowed",
    "geodesic_area_m2",
    "grid_area_m2",
    "keep_out_area_m2",
    "total_wanted",
    "total_given",
    "total_unit",
    "zones",
}
ZONE_KEYS = {"zone", "wanted", "given", "why", "geodesic_area_m2"}
FINDING_KEYS = {"id", "severity", "message", "remedy", "area_m2", "where"}

Capture = pytest.CaptureFixture[str]


def stopping(folder: Path) -> str:
    """Return a plan that a finding stops: zones overlap with different rates."""
    write_overlap(folder)
    return plan_text(zones="overlap.geojson", boundary="boundary.geojson")


def refused(capsys: Capture, *words: str) -> dict[str, Any]:
    """Run a build that has to end with 2, and return the one error that it prints."""
    capsys.readouterr()
    assert main(["build", *words, "--json"]) == 2
    printed = capsys.readouterr()
    (error,) = json.loads(printed.out)["errors"]
    assert printed.err.count("\n") == 1
    assert "Traceback" not in printed.err
    return error


# --- what it prints


def test_the_object_has_the_promised_keys(tmp_path: Path, capsys: Capture) -> None:
    """Every key that a script may count on is there, and its value has the promised type."""
    write_box(tmp_path / "hut.geojson", 0, 0, 20, 20)
    plan = bench(tmp_path, rest=keep_out("hut.geojson") + SECOND)
    out = build_plan(tmp_path, plan, capsys)
    assert out.code == 0
    assert list(out.said) == ["bundle", "field", "products", "files", "findings", "changes", "stopped_report"]
    assert out.said["field"].keys() >= FIELD_KEYS
    assert [one["name"] for one in out.said["products"]] == ["Granular", "Second"]
    for product in out.said["products"]:
        assert product.keys() >= PRODUCT_KEYS
        for zone in product["zones"]:
            assert zone.keys() >= ZONE_KEYS
    first = out.said["products"][0]
    assert (first["unit"], first["min"], first["max"], first["step"]) == ("kg/ha", 20, 200, 5)
    assert (first["step_from"], first["off_allowed"], first["total_unit"]) == ("zero", True, "kg")
    assert all(one.keys() >= {"path", "format", "sha256"} for one in out.said["files"])


def test_findings_have_the_promised_keys(tmp_path: Path, capsys: Capture) -> None:
    """A finding has id, severity, message, remedy, area and where: a GeoJSON geometry on WGS 84, or null."""
    out = build_plan(tmp_path, stopping(tmp_path), capsys)
    (overlap,) = out.named("overlap")
    assert overlap.keys() >= FINDING_KEYS
    assert overlap["severity"] == "stop"
    assert overlap["area_m2"] == pytest.approx(3750, rel=1e-6)
    place = shapely.geometry.shape(overlap["where"])
    assert -96.01 < place.centroid.x < -95.99
    assert 40.04 < place.centroid.y < 40.06
    assert all(one["where"] is None or "coordinates" in one["where"] for one in out.findings)


def test_rates_areas_and_totals_are_those_of_the_field(tmp_path: Path, capsys: Capture) -> None:
    """Three rectangles of 4.5, 3 and 3 ha at 85, 115 and 140 kg/ha take 382.5 + 345 + 420 kg."""
    out = build_plan(tmp_path, bench(tmp_path), capsys)
    assert out.hectares() == pytest.approx(AREA_HA, rel=1e-6)
    assert out.given() == out.wanted() == RATES
    assert out.said["products"][0]["total_given"] == pytest.approx(1147.5, rel=1e-6)
    field = out.said["field"]
    assert field["boundary_area_m2"] == pytest.approx(FIELD_HA * 1e4, rel=1e-6)
    assert field["keep_out_area_m2"] == 0
    assert out.findings == []


def test_standard_output_holds_one_object_and_nothing_else(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """Neither words nor a second line go to standard output, not from a library in C either."""
    (tmp_path / "plan.toml").write_text(bench(tmp_path), encoding="utf-8")
    assert main(["build", str(tmp_path / "plan.toml"), "--json"]) == 0
    printed = capfd.readouterr()
    assert printed.out.count("\n") == 1
    assert json.loads(printed.out)["bundle"]
    assert printed.err == ""


def test_files_are_there_with_their_digests(tmp_path: Path, capsys: Capture) -> None:
    """Every file said is in the bundle with the digest said, and beside them only the manifest."""
    out = build_plan(tmp_path, bench(tmp_path), capsys)
    bundle = Path(out.said["bundle"])
    assert bundle == tmp_path / "plan-bundle"
    found = digests(bundle, without="")
    said = {Path(one["path"]).relative_to(bundle).as_posix(): one["sha256"] for one in out.said["files"]}
    assert found.keys() - said.keys() == {"manifest.json"}
    assert {name: found[name] for name in said} == said
    assert {name.split("/")[0] for name in said} == {"machine", "paper"}


# --- how it ends


def test_a_stop_ends_with_1_and_leaves_the_old_bundle_as_it_was(tmp_path: Path, capsys: Capture) -> None:
    """A finding that stops is printed; nothing is written, not even over an old bundle with --force."""
    stopped = build_plan(tmp_path, stopping(tmp_path), capsys)
    assert (stopped.code, stopped.said["bundle"], stopped.said["files"]) == (1, None, [])
    assert not (tmp_path / "plan-bundle").exists()
    assert build_plan(tmp_path, bench(tmp_path), capsys).code == 0
    before = digests(tmp_path / "plan-bundle", without="")
    again = build_plan(tmp_path, stopping(tmp_path), capsys, "--force")
    assert again.code == 1
    assert digests(tmp_path / "plan-bundle", without="") == before
    assert not list(tmp_path.glob(".*"))


def test_without_json_a_stop_prints_what_to_settle(tmp_path: Path, capsys: Capture) -> None:
    """The words for people name the finding, its remedy, and that nothing was written."""
    (tmp_path / "plan.toml").write_text(stopping(tmp_path), encoding="utf-8")
    assert main(["build", str(tmp_path / "plan.toml")]) == 1
    out = capsys.readouterr().out
    assert "STOP" in out
    assert "[overlap]" in out
    assert "Nothing was written" in out


def test_an_input_that_can_not_be_read_ends_with_2(tmp_path: Path, capsys: Capture) -> None:
    """A missing plan: one line on standard error, and the same as JSON with problem, remedy and where."""
    error = refused(capsys, str(tmp_path / "nowhere.toml"))
    assert error.keys() == {"problem", "remedy", "where"}
    assert "nowhere.toml" in error["where"] + error["problem"]
    assert error["remedy"]


def test_all_unreadable_files_are_told_at_once(tmp_path: Path, capsys: Capture) -> None:
    """Boundary, zones and a keep-out, each broken in its way: three errors, one a file."""
    plan = bench(tmp_path, rest=keep_out("hut.geojson"))
    for name in ("boundary", "zones", "hut"):
        (tmp_path / f"{name}.geojson").write_text("{")
    out = build_plan(tmp_path, plan, capsys)
    assert out.code == 2
    assert {one["where"].split(".")[0] for one in out.said["errors"]} == {"boundary", "zones", "hut"}
    assert out.stderr.count("\n") == 3


def test_a_table_of_two_products_is_told_once(tmp_path: Path, capsys: Capture) -> None:
    """A table that can't be read is one problem, whichever rates come from it."""
    rates = "".join(
        f'[[rate]]\nproduct = "{name}"\nby = "table"\ntable = "rates.csv"\ncolumn = "{name}"\nunit = "kg/ha"\n'
        for name in ("Granular", "Second")
    )
    plan = bench(tmp_path, rates=rates, rest=SECOND.split("[[rate]]")[0])
    (tmp_path / "rates.csv").write_bytes(b"")
    out = build_plan(tmp_path, plan, capsys)
    assert out.code == 2
    assert len(out.said["errors"]) == 1


# --- where it writes


def test_a_bundle_is_replaced_only_with_force(tmp_path: Path, capsys: Capture) -> None:
    """The second build is refused and says how to go on; with --force it replaces the first."""
    plan = bench(tmp_path)
    assert build_plan(tmp_path, plan, capsys).code == 0
    before = digests(tmp_path / "plan-bundle", without="")
    again = build_plan(tmp_path, plan, capsys)
    assert again.code == 2
    assert "--force" in again.text
    assert digests(tmp_path / "plan-bundle", without="") == before
    assert build_plan(tmp_path, plan.replace("Test field", "Other name"), capsys, "--force").code == 0
    assert digests(tmp_path / "plan-bundle", without="") != before


def test_papers_that_were_made_again_belong_to_the_bundle(tmp_path: Path, capsys: Capture) -> None:
    """`vrx report` lists what it wrote: a later build may replace it, and a file of a person's stops both."""
    plan, bundle = bench(tmp_path), tmp_path / "plan-bundle"
    assert build_plan(tmp_path, plan, capsys, pictures=True).code == 0
    assert main(["report", str(bundle), "--svg"]) == 0
    listed = {one["path"] for one in json.loads((bundle / "manifest.json").read_text(encoding="utf-8"))["outputs"]}
    assert set(digests(bundle, without="")) == listed | {"manifest.json"}
    assert build_plan(tmp_path, plan, capsys, "--force", pictures=True).code == 0
    (bundle / "paper" / "photo.jpg").write_bytes(b"mine")
    assert main(["report", str(bundle)]) == 2
    assert "paper/photo.jpg" in capsys.readouterr().err


def test_force_loses_no_file_that_a_person_put_into_the_bundle(tmp_path: Path, capsys: Capture) -> None:
    """A photo among the papers is named, and the old bundle stays as it is."""
    plan = bench(tmp_path)
    assert build_plan(tmp_path, plan, capsys).code == 0
    (tmp_path / "plan-bundle" / "paper" / "photo.jpg").write_bytes(b"mine")
    before = digests(tmp_path / "plan-bundle", without="")
    out = build_plan(tmp_path, plan, capsys, "--force")
    assert out.code == 2
    assert "paper/photo.jpg" in out.text
    assert digests(tmp_path / "plan-bundle", without="") == before


@pytest.mark.parametrize(
    "there",
    [
        pytest.param({"photo.jpg": "x"}, id="a folder of something else"),
        pytest.param({"manifest.json": '{"name": "Someone\'s web page"}', "index.html": ""}, id="a manifest not ours"),
        pytest.param({"manifest.json": "[]"}, id="a manifest that is a list"),
        pytest.param({"manifest.json": "not JSON"}, id="a manifest that can't be read"),
    ],
)
def test_a_folder_that_is_no_bundle_is_never_replaced(there: dict[str, str], tmp_path: Path, capsys: Capture) -> None:
    """Not even with --force: what vrx did not write stays."""
    target = tmp_path / "mine"
    target.mkdir()
    for name, text in there.items():
        (target / name).write_text(text)
    before = digests(target, without="")
    out = build_plan(tmp_path, bench(tmp_path), capsys, "--out", str(target), "--force")
    assert out.code == 2
    assert "not a bundle" in out.text
    assert digests(target, without="") == before


@pytest.mark.parametrize("kept", ["zones.geojson", "plan.toml"])
def test_a_folder_with_inputs_in_it_is_never_replaced(kept: str, tmp_path: Path, capsys: Capture) -> None:
    """A plan that reads from the very bundle that it would replace is refused: inputs are never touched."""
    plan = bench(tmp_path)
    assert build_plan(tmp_path, plan, capsys).code == 0
    inner = tmp_path / "plan-bundle"
    bench(inner)
    if kept == "plan.toml":
        plan_file = inner / "plan.toml"
        plan_file.write_text(plan, encoding="utf-8")
    else:
        plan_file = tmp_path / "plan.toml"
        plan_file.write_text(plan.replace('"zones.geojson"', '"plan-bundle/zones.geojson"'), encoding="utf-8")
    before = digests(tmp_path, without="")
    error = refused(capsys, str(plan_file), "--out", str(inner), "--force")
    assert kept in error["problem"]
    assert digests(tmp_path, without="") == before


def test_out_may_be_relative_and_its_parents_missing(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """--out is relative to the working folder, paths in the plan are relative to the plan."""
    plans, elsewhere = tmp_path / "plans", tmp_path / "elsewhere"
    elsewhere.mkdir()
    plan = bench(plans)
    (plans / "plan.toml").write_text(plan, encoding="utf-8")
    monkeypatch.chdir(elsewhere)
    assert main(["build", "../plans/plan.toml", "--json", "--out", "a/b/c"]) == 0
    assert json.loads(capsys.readouterr().out)["bundle"] == str(elsewhere / "a" / "b" / "c")
    assert (elsewhere / "a/b/c/manifest.json").is_file()
    assert not list(plans.glob("*bundle*"))
    monkeypatch.chdir(plans)
    assert main(["build", "plan.toml", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["bundle"] == str(plans / "plan-bundle")


@pytest.mark.parametrize("name", ["my fields", "Fläche Ø 'sud'", "поле-7", "a#b%20c", "{curly} $HOME"])
def test_folders_may_have_any_name(name: str, tmp_path: Path, capsys: Capture) -> None:
    """Spaces, accents, apostrophes and signs in a path are only a name, and so is a field name of the kind."""
    plan = bench(tmp_path / name).replace('"Test field"', json.dumps(name, ensure_ascii=False))
    out = build_plan(tmp_path / name, plan, capsys)
    assert out.code == 0
    assert Path(out.said["bundle"]) == tmp_path / name / "plan-bundle"
    assert out.said["field"]["name"] == name
    assert all(Path(one["path"]).name.isascii() for one in out.said["files"])


def test_inputs_are_never_touched(tmp_path: Path, capsys: Capture) -> None:
    """Before and after a build, a rebuild and a refusal the inputs are the same files with the same bytes."""
    plan = bench(tmp_path)
    write_no_prj(tmp_path)
    (tmp_path / "plan.toml").write_text(plan, encoding="utf-8")
    before = digests(tmp_path)
    times = {name: (tmp_path / name).stat().st_mtime_ns for name in before if name != "plan.toml"}
    assert build_plan(tmp_path, plan, capsys).code == 0
    assert build_plan(tmp_path, plan, capsys, "--force").code == 0
    by_shapefile = {"zones": "bench.shp", "name": "ZONE", "column": "RATE"}
    shapefile = plan_text(**by_shapefile, boundary="boundary.geojson")
    assert build_plan(tmp_path, shapefile, capsys, "--force").code == 2  # no .prj
    (tmp_path / "plan.toml").write_text(plan, encoding="utf-8")
    assert digests(tmp_path) == before
    assert {name: (tmp_path / name).stat().st_mtime_ns for name in times} == times


def test_inputs_that_may_only_be_read_are_enough(tmp_path: Path, capsys: Capture) -> None:
    """A folder of inputs without the right to write, as on a disk of someone else, builds elsewhere."""
    folder = tmp_path / "theirs"
    (folder / "sub").mkdir(parents=True)
    (folder / "plan.toml").write_text(bench(folder), encoding="utf-8")
    for path in folder.iterdir():
        path.chmod(0o444 if path.is_file() else 0o555)
    folder.chmod(0o555)
    try:
        assert main(["build", str(folder / "plan.toml"), "--out", str(tmp_path / "mine")]) == 0
    finally:
        folder.chmod(0o755)
    made = tmp_path / "mine" / "manifest.json"
    assert os.access(made, os.W_OK)


def test_a_linked_out_folder_is_followed(tmp_path: Path, capsys: Capture) -> None:
    """--out through a link replaces what the link leads to, and the link stays."""
    real = tmp_path / "real"
    plan = bench(tmp_path)
    assert build_plan(tmp_path, plan, capsys, "--out", str(real)).code == 0
    link = tmp_path / "stick"
    link.symlink_to(real, target_is_directory=True)
    out: Outcome = build_plan(tmp_path, plan, capsys, "--out", str(link), "--force")
    assert out.code == 0
    assert link.is_symlink()
    assert (real / "manifest.json").is_file()
