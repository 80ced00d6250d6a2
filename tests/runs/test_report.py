"""``vrx report`` and the report of a stopped build: what is made, from what, and what is refused."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from support_bundles import files_in
from support_cases import write_overlap
from support_fields import bench
from support_plans import plan_text

from vrx.cli.main import main
from vrx.errors import InputError, VrxError
from vrx.runs.build import build
from vrx.runs.report import report

Capture = pytest.CaptureFixture[str]
PAPERS = {"paper/report.json", "paper/report.html", "paper/map.png", "paper/cab-card.pdf"}


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bundle of one product, never changed."""
    folder = tmp_path_factory.mktemp("field")
    (folder / "plan.toml").write_text(bench(folder), encoding="utf-8")
    found = build(folder / "plan.toml").bundle
    assert found
    return found


@pytest.fixture
def bundle(first: Path, tmp_path: Path) -> Path:
    return shutil.copytree(first, tmp_path / "bundle")


def test_a_build_makes_its_papers(first: Path) -> None:
    """Report, map, card and ledger, each listed in the manifest with its checksum."""
    there = set(files_in(first))
    assert there >= PAPERS | {"paper/ledger.csv"}
    manifest = json.loads((first / "manifest.json").read_text(encoding="utf-8"))
    assert {one["path"] for one in manifest["outputs"]} == there - {"manifest.json"}
    assert {"matplotlib", "fpdf2"} <= manifest["versions"].keys()


def test_without_pictures_files_and_ledger_alone(tmp_path: Path, capsys: Capture) -> None:
    """--no-pictures: no report, no map, no card; what the machine loads and the ledger are the same."""
    (tmp_path / "plan.toml").write_text(bench(tmp_path), encoding="utf-8")
    assert main(["build", str(tmp_path / "plan.toml"), "--no-pictures"]) == 0
    assert main(["build", str(tmp_path / "plan.toml"), "--out", str(tmp_path / "whole")]) == 0
    capsys.readouterr()
    plain, whole = files_in(tmp_path / "plan-bundle"), files_in(tmp_path / "whole")
    assert whole.keys() - plain.keys() == PAPERS
    for name in plain.keys() - {"manifest.json"}:
        assert plain[name] == whole[name]


def test_the_papers_are_made_again_as_they_were(bundle: Path, capsys: Capture) -> None:
    """From a bundle alone, far from its inputs: the same bytes, manifest included."""
    before = files_in(bundle)
    for name in ("report.html", "map.png", "cab-card.pdf"):
        (bundle / "paper" / name).unlink()
    assert main(["report", str(bundle)]) == 0
    assert "paper/report.html" in capsys.readouterr().out
    assert files_in(bundle) == before


def test_papers_that_were_written_over_come_back(bundle: Path) -> None:
    """A card someone scribbled on is no reason to refuse: it is made again."""
    before = files_in(bundle)
    (bundle / "paper" / "cab-card.pdf").write_bytes(b"scribble")
    made = report(bundle)
    assert {one.path for one in made} == PAPERS
    assert files_in(bundle) == before


def test_maps_as_svg_on_request(bundle: Path, capsys: Capture) -> None:
    """--svg adds a map; without it the next time, it goes again."""
    assert main(["report", str(bundle), "--svg", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["bundle"] == str(bundle)
    assert {one["format"] for one in said["files"]} == {"report content", "html", "png", "svg", "pdf"}
    assert (bundle / "paper" / "map.svg").is_file()
    report(bundle)
    assert not (bundle / "paper" / "map.svg").exists()


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        pytest.param(shutil.rmtree, "no bundle", id="not there"),
        pytest.param(lambda path: (path / "manifest.json").write_text("{}"), "no bundle", id="not ours"),
        pytest.param(lambda path: (path / "manifest.json").write_bytes(b"\xff"), "no bundle", id="damaged manifest"),
        pytest.param(
            lambda path: (path / "paper" / "report.json").write_text("{}"), "not the file that was built",
            id="content changed",
        ),
        pytest.param(lambda path: (path / "paper" / "report.json").unlink(), "can't be read", id="content gone"),
        pytest.param(
            lambda path: next((path / "machine").glob("*.dbf")).write_bytes(b"x"), "not the file that was built",
            id="map changed",
        ),
        pytest.param(lambda path: next((path / "machine").glob("*.shp")).unlink(), "can't be read", id="map gone"),
        pytest.param(
            lambda path: (path / "paper" / "photo.jpg").write_bytes(b"x"), "what no build wrote", id="a person's file"
        ),
    ],
)  # fmt: skip
def test_what_is_no_longer_the_build_is_refused(bundle: Path, damage: object, words: str, capsys: Capture) -> None:
    """Papers of a changed map would not be true: nothing is made, nothing is touched."""
    damage(bundle)  # type: ignore[operator]  # one of the functions above
    before = files_in(bundle) if bundle.exists() else {}
    with pytest.raises(VrxError) as err:
        report(bundle)
    assert words in str(err.value)
    assert (files_in(bundle) if bundle.exists() else {}) == before
    assert main(["report", str(bundle)]) == 2
    assert capsys.readouterr().err.startswith("vrx: ")


def test_a_manifest_that_leads_out_of_its_bundle_is_not_followed(bundle: Path) -> None:
    """A path with .. in a manifest from elsewhere reads and copies nothing."""
    (bundle.parent / "secret.txt").write_text("secret")
    manifest = json.loads((bundle / "manifest.json").read_text(encoding="utf-8"))
    manifest["outputs"].append({"path": "../secret.txt", "format": "csv", "sha256": "0" * 64})
    (bundle / "manifest.json").write_text(json.dumps(manifest), encoding="utf-8")
    report(bundle)
    assert not any(path.name == "secret.txt" for path in bundle.rglob("*"))


def test_a_bundle_without_pictures_says_so(tmp_path: Path) -> None:
    """It holds nothing to draw from: build it again."""
    (tmp_path / "plan.toml").write_text(bench(tmp_path), encoding="utf-8")
    found = build(tmp_path / "plan.toml", pictures=False).bundle
    assert found
    with pytest.raises(InputError, match="built without pictures"):
        report(found)


# --- stopped builds


def stopping(folder: Path) -> Path:
    write_overlap(folder)
    plan = folder / "plan.toml"
    plan.write_text(plan_text(zones="overlap.geojson", boundary="boundary.geojson"), encoding="utf-8")
    return plan


def test_a_stopped_build_writes_its_report_beside_the_bundle(tmp_path: Path, capsys: Capture) -> None:
    """No machine files, no card, the old bundle as it was; exit 1, and the report is named."""
    old = tmp_path / "plan-bundle"
    (tmp_path / "good.toml").write_text(bench(tmp_path), encoding="utf-8")
    build(tmp_path / "good.toml", out=old)
    before = files_in(old)
    assert main(["build", str(stopping(tmp_path)), "--force"]) == 1
    stopped = tmp_path / "plan-bundle-stopped"
    assert f"The report: {stopped / 'paper' / 'report.html'}" in capsys.readouterr().out
    assert set(files_in(stopped)) == {"manifest.json", "paper/report.json", "paper/report.html"}
    assert files_in(old) == before
    said = (stopped / "paper" / "report.html").read_text(encoding="utf-8")
    assert "The bundle of an earlier build, plan-bundle, is still there" in said
    assert str(tmp_path) not in said
    assert json.loads((stopped / "manifest.json").read_text(encoding="utf-8"))["stopped"] is True


def test_a_stopped_report_is_replaced_and_goes_when_the_build_goes_through(tmp_path: Path) -> None:
    """A second stop needs no --force; the next good build takes the stale report away."""
    plan = stopping(tmp_path)
    first, second = build(plan), build(plan)
    assert first.stopped_report == second.stopped_report == tmp_path / "plan-bundle-stopped" / "paper" / "report.html"
    assert (first.bundle, first.files) == (None, ())
    plan.write_text(bench(tmp_path), encoding="utf-8")
    assert build(plan).bundle
    assert not (tmp_path / "plan-bundle-stopped").exists()


def test_a_stop_is_told_though_its_report_has_no_place(tmp_path: Path, capsys: Capture) -> None:
    """A folder of someone else's in the way: the findings are printed all the same, with a caution about it."""
    plan = stopping(tmp_path)
    other = tmp_path / "plan-bundle-stopped"
    other.mkdir()
    (other / "mine.txt").write_text("mine")
    assert main(["build", str(plan), "--json"]) == 1
    said = json.loads(capsys.readouterr().out)
    assert said["stopped_report"] is None
    assert {one["id"] for one in said["findings"]} >= {"overlap", "report-not-written"}
    assert files_in(other) == {"mine.txt": b"mine"}


def test_a_stop_without_pictures_writes_nothing(tmp_path: Path) -> None:
    """Who wants no papers gets none."""
    before = {path.name for path in tmp_path.iterdir()}
    plan = stopping(tmp_path)
    built = build(plan, pictures=False)
    assert built.stopped
    assert built.stopped_report is None
    assert {path.name for path in tmp_path.iterdir() if path.is_dir()} == before


def test_a_backdrop_that_is_missing_is_a_caution(tmp_path: Path) -> None:
    """The map does without it, and says so."""
    text = bench(tmp_path).replace("[field]\n", '[field]\nbackdrop = "nowhere.tif"\n')
    (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
    built = build(tmp_path / "plan.toml")
    assert built.bundle
    (finding,) = [one for one in built.findings if one.id == "backdrop-unreadable"]
    assert finding.severity == "caution"
    assert "nowhere.tif" in finding.message
    assert built.content.backdrop is None
