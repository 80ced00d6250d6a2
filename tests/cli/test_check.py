"""``vrx check``: how it ends, what it prints, what it writes, and what it never touches."""

from __future__ import annotations

import hashlib
import json
import os
import sys
from pathlib import Path
from typing import Any

import pytest
from support_cases import feature, polygon, rectangle, write_boundary, write_geojson, write_plain
from support_check_pages import write_plan, write_zones

import vrx
from vrx.cli.main import main

Capture = pytest.CaptureFixture[str]


def run(capsys: Capture, *words: Any) -> tuple[int, str, str]:
    code = main(["check", *map(str, words)])
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.fixture
def sound(tmp_path: Path) -> list[Any]:
    """Return the call that checks a sound map with its plan."""
    return [write_zones(tmp_path / "map.geojson"), "--plan", write_plan(tmp_path), "--unit", "kg/ha"]


@pytest.fixture
def doubtful(tmp_path: Path) -> list[Any]:
    """Return the call for a map whose zones overlap on 50 m2 of 10.5 ha: less than 0.1 %, a caution."""
    return [write_zones(tmp_path / "map.geojson", overlap_m=0.2), "--plan", write_plan(tmp_path), "--unit", "kg/ha"]


@pytest.fixture
def wrong(tmp_path: Path) -> list[Any]:
    """Return the call for a map that lies 9 km away from the field."""
    far = write_geojson(tmp_path / "far.geojson", [feature(polygon(rectangle(9000.0, 0.0, 9400.0, 250.0)), rate=85)])
    return [far, "--plan", write_plan(tmp_path), "--unit", "kg/ha"]


@pytest.mark.parametrize(
    ("call", "options", "code", "first"),
    [
        pytest.param("sound", [], 0, "CLEAR: nothing speaks against loading map.geojson.", id="clear"),
        pytest.param("sound", ["--strict"], 0, "CLEAR: ", id="clear and strict"),
        pytest.param("doubtful", [], 0, "CAUTION: look at 1 thing before loading map.geojson.", id="caution"),
        pytest.param("doubtful", ["--strict"], 1, "CAUTION: ", id="caution and strict"),
        pytest.param("wrong", [], 1, "STOP: do not load far.geojson.", id="stop"),
        pytest.param("wrong", ["--strict"], 1, "STOP: ", id="stop and strict"),
    ],
)
def test_the_exit_code_goes_with_the_verdict(
    request: pytest.FixtureRequest, capsys: Capture, call: str, options: list[str], code: int, first: str
) -> None:
    """0 clear or caution, 1 stop, and with --strict a caution too; the first line says it in words."""
    ended, out, err = run(capsys, *request.getfixturevalue(call), *options)
    assert ended == code
    assert out.splitlines()[0].startswith(first)
    assert err == ""


def test_json_is_one_object_and_nothing_else(capsys: Capture, wrong: list[Any]) -> None:
    """Verdict, map, product, findings and what was not looked at."""
    code, out, err = run(capsys, *wrong, "--json")
    made = json.loads(out)
    assert (code, err) == (1, "")
    assert list(made) == ["verdict", "map", "product", "findings", "not_checked"]
    assert made["verdict"] == "stop"
    assert made["findings"][0]["id"] == "other-field"


@pytest.mark.skipif(sys.platform == "win32", reason="pipes of POSIX")
@pytest.mark.parametrize("kind", ["pipe", "folder", "missing"])
def test_what_is_no_file_is_an_error_of_the_call(tmp_path: Path, capsys: Capture, kind: str) -> None:
    """Exit 2 and one line on standard error; a pipe is not waited for."""
    path = tmp_path / "map.shp"
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    code, out, err = run(capsys, path)
    assert (code, out) == (2, "")
    assert len(err.splitlines()) == 1
    assert err.startswith("vrx: ")


@pytest.mark.parametrize(
    ("options", "say"),
    [
        pytest.param(["--column", "RAT"], "rate", id="no such column"),
        pytest.param(["--unit", "kg"], "kg", id="no rate"),
        pytest.param(["--plan", "none.toml"], "none.toml", id="no such plan"),
        pytest.param(["--groups", "left+left"], "--groups", id="a drive twice"),
        pytest.param(["--decimal", ";"], "--decimal", id="no sign of decimals"),
        pytest.param(["--report", "page.pdf"], "page.pdf", id="no page"),
    ],
)
def test_calls_that_can_t_be_used(tmp_path: Path, capsys: Capture, options: list[str], say: str) -> None:
    """Exit 2, one line that names what is wrong."""
    code, out, err = run(capsys, write_zones(tmp_path / "map.geojson"), *options)
    assert (code, out) == (2, "")
    assert len(err.splitlines()) == 1
    assert say in err


@pytest.mark.parametrize("ending", ["geojson", "shp", "gpkg", "kml", "zip", "fgb", "parquet", "tif"])
def test_a_damaged_file_is_a_stop(tmp_path: Path, capsys: Capture, ending: str) -> None:
    """It is the answer to the question whether it may be loaded: exit 1, id unreadable, no traceback."""
    path = tmp_path / f"map.{ending}"
    path.write_bytes(b"\x00\x01\x02 this is no map")
    code, out, err = run(capsys, path, "--json")
    made = json.loads(out)
    assert (code, err) == (1, "")
    assert made["verdict"] == "stop"
    assert made["findings"][0]["id"] == "unreadable"
    assert made["map"]["features"] is None


def test_a_shapefile_cut_short_is_a_stop_in_words(tmp_path: Path, capsys: Capture) -> None:
    """The first line says it, and the remedy stands below."""
    path = write_plain(tmp_path)
    path.write_bytes(path.read_bytes()[:200])
    code, out, err = run(capsys, path)
    assert (code, err) == (1, "")
    assert out.splitlines()[0] == "STOP: do not load bench.shp."
    assert "[unreadable]" in out
    assert "> " in out


def test_a_plan_or_a_bundle_is_told_from_a_map(tmp_path: Path, capsys: Capture) -> None:
    """Both are refused with the call that was meant; a folder of several maps is told the option of the check."""
    plan, bundle = write_plan(tmp_path), tmp_path / "out"
    vrx.build(plan, out=bundle, pictures=False)
    code, out, err = run(capsys, plan)
    assert (code, out) == (2, "")
    assert "This is a plan, not a map. Name the map, and the plan with --plan." in err
    code, out, err = run(capsys, bundle, "--plan", plan)
    assert (code, out) == (2, "")
    assert f"This is a bundle, not a map. Name one of the maps in {bundle / 'machine'}" in err
    code, out, err = run(capsys, bundle / "machine", "--plan", plan)
    assert (code, out) == (2, "")
    assert "Name the file itself, or say which with --layer." in err
    assert "layer = " not in err


def test_several_files_are_one_map(tmp_path: Path, capsys: Capture) -> None:
    """Both halves together cover the field: 10.5 ha by construction."""
    halves = [
        write_geojson(tmp_path / f"{name}.geojson", [feature(polygon(rectangle(*box)), rate=85)])
        for name, box in (("west", (-210.0, 0.0, 0.0, 250.0)), ("east", (0.0, 0.0, 210.0, 250.0)))
    ]
    code, out, _ = run(capsys, *halves, "--boundary", write_boundary(tmp_path), "--unit", "kg/ha", "--json")
    made = json.loads(out)
    assert code == 0
    assert made["map"]["name"] == "west.geojson + east.geojson"
    assert made["map"]["features"] == 2
    assert made["map"]["geodesic_area_m2"] == pytest.approx(105_000, rel=1e-6)


def test_all_shows_every_rule_that_could_not_look(tmp_path: Path, capsys: Capture) -> None:
    """Nothing is clear by silence: each id that JSON lists stands in the text with --all."""
    path = write_zones(tmp_path / "map.geojson")
    unseen = {one["id"] for one in json.loads(run(capsys, path, "--json")[1])["not_checked"]}
    _, out, _ = run(capsys, path, "--all")
    assert len(unseen) > 5
    assert all(one in out for one in unseen)
    assert out.startswith(f"CLEAR as far as could be looked: map.geojson. {len(unseen)} rules had nothing")


# --- the report


def test_a_report_is_written_and_named(tmp_path: Path, capsys: Capture, wrong: list[Any]) -> None:
    """Beside the text, with the exit code of the verdict; nothing else is left."""
    page = tmp_path / "out" / "check.html"
    page.parent.mkdir()
    code, out, _ = run(capsys, *wrong, "--report", page)
    assert code == 1
    assert out.splitlines()[-1] == f"Written: {page}"
    assert page.read_bytes().startswith(b"<!DOCTYPE html>\n")
    assert list(page.parent.iterdir()) == [page]
    code, out, _ = run(capsys, *wrong, "--report", page, "--force", "--json")
    assert (code, json.loads(out)["report"]) == (1, str(page.resolve()))


def test_a_report_replaces_nothing_unless_forced(tmp_path: Path, capsys: Capture, sound: list[Any]) -> None:
    """Without --force what is there stays, and the call ends with 2."""
    page = tmp_path / "check.html"
    page.write_text("mine", encoding="utf-8")
    code, out, err = run(capsys, *sound, "--report", page)
    assert (code, out) == (2, "")
    assert "--force" in err
    assert page.read_text(encoding="utf-8") == "mine"
    assert run(capsys, *sound, "--report", page, "--force")[0] == 0
    assert page.read_bytes().startswith(b"<!DOCTYPE html>")


@pytest.mark.parametrize("link", [False, True], ids=["itself", "by a link"])
def test_a_report_is_never_an_input(tmp_path: Path, capsys: Capture, link: bool) -> None:
    """Not even with --force, nor through a link to it."""
    named = write_zones(tmp_path / "map.geojson")
    boundary = write_boundary(tmp_path).rename(tmp_path / "boundary.html")
    page = boundary
    if link:
        page = tmp_path / "page.html"
        page.symlink_to(boundary)
    before = hashlib.sha256(boundary.read_bytes()).digest()
    code, _, err = run(capsys, named, "--boundary", boundary, "--report", page, "--force")
    assert code == 2
    assert "input" in err
    assert hashlib.sha256(boundary.read_bytes()).digest() == before


def test_a_report_that_can_t_be_written_leaves_nothing(tmp_path: Path, capsys: Capture, sound: list[Any]) -> None:
    """A folder that is not there: exit 2, one line."""
    code, out, err = run(capsys, *sound, "--report", tmp_path / "none" / "check.html")
    assert (code, out) == (2, "")
    assert len(err.splitlines()) == 1


def test_a_check_changes_no_file(tmp_path: Path, capsys: Capture, wrong: list[Any]) -> None:
    """Same files, same bytes."""
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    run(capsys, *wrong)
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_the_check_is_a_public_name(tmp_path: Path) -> None:
    """``vrx.check`` returns a ``vrx.Check``."""
    assert isinstance(vrx.check([write_zones(tmp_path / "map.geojson")]), vrx.Check)
