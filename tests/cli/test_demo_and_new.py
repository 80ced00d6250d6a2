"""``vrx demo`` and ``vrx new``: what a newcomer runs first."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path

import jsonschema
import pytest
from support_cases import write_field
from support_fields import digests, write_line

import vrx
from vrx.cli.main import main
from vrx.cli.say import typed
from vrx.runs import samples

SCRIPT = Path(sys.executable).with_name("vrx")
NAMES = ("bergwind", "przy_torze", "quail_bench")

Capture = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def _working_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


# --- demo


@pytest.mark.parametrize("name", NAMES)
def test_every_sample_is_copied_and_built(name: str, tmp_path: Path, capsys: Capture) -> None:
    """The folder holds plan, data, story and bundle; the last lines say where they are and how to go on."""
    assert main(["demo", "try", "--field", name]) == 0
    said = capsys.readouterr().out
    for path in ("try/plan.toml", "try/README.md", "try/plan-bundle"):
        assert path in said
        assert (tmp_path / path).exists()
    assert "build try/plan.toml --force" in said
    assert all(other in said for other in NAMES if other != name)


@pytest.mark.skipif(sys.platform == "win32", reason="sh is of POSIX")
@pytest.mark.parametrize("begun", [[sys.executable, "-m", "vrx"], [str(SCRIPT)]], ids=["as a module", "as a program"])
@pytest.mark.parametrize("words", [["demo", "my field"], ["demo"]], ids=["a blank in the path", "plain"])
def test_what_it_says_to_run_next_runs(begun: list[str], words: list[str], tmp_path: Path) -> None:
    """The command of the last lines, typed as it stands, builds the plan again, with the program that said it."""
    env = {name: value for name, value in os.environ.items() if name != "PATH"} | {"PATH": os.defpath}
    env["PYTHONPATH"] = str(Path(vrx.__file__).parents[1])
    shown = subprocess.run([*begun, *words], capture_output=True, text=True, encoding="utf-8", check=True, env=env)
    typed = next(line for line in shown.stdout.splitlines() if "and run  " in line).split("and run  ")[1]
    again = subprocess.run(["sh", "-c", typed], capture_output=True, text=True, encoding="utf-8", check=False, env=env)
    assert again.returncode == 0, again.stderr
    assert f"{words[1] if len(words) > 1 else 'vrx-demo'}/plan-bundle" in again.stdout


def test_a_program_found_by_its_name_is_named_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Typed as vrx, whatever folder of the path it is in."""
    monkeypatch.setattr(sys, "argv", [str(SCRIPT), "demo"])
    monkeypatch.setenv("PATH", str(SCRIPT.parent))
    assert typed("build", "a plan.toml") == "vrx build 'a plan.toml'"
    monkeypatch.setattr(sys, "argv", [".venv/bin/vrx", "demo"])
    assert typed("build", "plan.toml") == ".venv/bin/vrx build plan.toml"


def test_a_second_demo_is_refused_and_told_how(tmp_path: Path, capsys: Capture) -> None:
    """A folder that is not empty stays as it is; with --force the sample is written over it, other files stay."""
    assert main(["demo", "try"]) == 0
    plan = tmp_path / "try" / "plan.toml"
    plan.write_text("mine = true\n")
    (tmp_path / "try" / "notes.txt").write_text("mine")
    before = digests(tmp_path, without="")
    capsys.readouterr()
    assert main(["demo", "try"]) == 2
    assert "--force" in capsys.readouterr().err
    assert digests(tmp_path, without="") == before
    assert main(["demo", "try", "--force"]) == 0
    assert "Quail Bench" in plan.read_text(encoding="utf-8")
    assert (tmp_path / "try" / "notes.txt").read_text() == "mine"


def test_an_empty_folder_may_be_there(tmp_path: Path) -> None:
    """Making the folder first is no mistake."""
    (tmp_path / "try").mkdir()
    assert main(["demo", "try"]) == 0


def test_a_file_in_the_way_is_said(tmp_path: Path, capsys: Capture) -> None:
    """A file of the name stays, with --force too."""
    (tmp_path / "try").write_text("mine")
    assert main(["demo", "try", "--force"]) == 2
    assert "a file, not a folder" in capsys.readouterr().err
    assert (tmp_path / "try").read_text() == "mine"


def test_demo_as_json_is_the_builds(tmp_path: Path, capsys: Capture) -> None:
    """One object on standard output and nothing else."""
    assert main(["demo", "try", "--json"]) == 0
    said = capsys.readouterr().out
    assert said.count("\n") == 1
    assert json.loads(said)["bundle"] == str(tmp_path / "try" / "plan-bundle")


def test_a_copy_may_be_changed_where_the_samples_may_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Samples installed read-only give a copy that its owner can edit."""
    kept = samples.sample_folder() / "bergwind"
    locked = tmp_path / "installed" / "bergwind"
    locked.mkdir(parents=True)
    for path in kept.iterdir():
        (locked / path.name).write_bytes(path.read_bytes())
        (locked / path.name).chmod(0o444)
    locked.chmod(0o555)
    monkeypatch.setattr(samples, "sample_folder", lambda: locked.parent)
    try:
        assert main(["demo", "try", "--field", "bergwind"]) == 0
    finally:
        locked.chmod(0o755)
    assert (tmp_path / "try" / "plan.toml").stat().st_mode & 0o200
    assert (tmp_path / "try").stat().st_mode & 0o200


# --- new


@pytest.mark.parametrize("units", ["us", "metric"])
def test_a_new_plan_builds_once_its_data_are_there(units: str, tmp_path: Path, capsys: Capture) -> None:
    """Started, it names the three files that it misses; with them it builds."""
    assert main(["new", "field", "--units", units]) == 0
    assert "vrx build field/plan.toml" in capsys.readouterr().out
    assert main(["build", "field/plan.toml"]) == 2
    said = capsys.readouterr().err
    for name in ("boundary.geojson", "zones.geojson", "ditch.geojson"):
        assert name in said
    assert said.count("\n") == 3
    write_field(tmp_path / "field")
    write_line(tmp_path / "field" / "ditch.geojson", [(-300.0, -5.0), (300.0, -5.0)])
    assert main(["build", "field/plan.toml", "--json"]) == 0
    out = json.loads(capsys.readouterr().out)
    (product,) = out["products"]
    assert {zone["zone"] for zone in product["zones"]} == {"A", "B", "C"}
    assert tomllib.loads((tmp_path / "field" / "plan.toml").read_text(encoding="utf-8"))["units"] == units


def test_new_as_json_names_the_plan(tmp_path: Path, capsys: Capture) -> None:
    """One object with the whole path; what is wrong comes as JSON too."""
    assert main(["new", "field", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"plan": str(tmp_path / "field" / "plan.toml")}
    assert main(["new", "field", "--json"]) == 2
    assert "already" in json.loads(capsys.readouterr().out)["errors"][0]["problem"]


def test_a_plan_that_is_there_stays(tmp_path: Path, capsys: Capture) -> None:
    """A second start is refused; with --force the plan is written anew."""
    assert main(["new", "field"]) == 0
    plan = tmp_path / "field" / "plan.toml"
    plan.write_text("mine")
    assert main(["new", "field"]) == 2
    assert "--force" in capsys.readouterr().err
    assert plan.read_text() == "mine"
    assert main(["new", "field", "--force"]) == 0
    assert plan.read_text(encoding="utf-8") != "mine"


def test_a_folder_that_can_not_be_made_is_said(tmp_path: Path, capsys: Capture) -> None:
    """A file in the way: one line, and the file stays."""
    (tmp_path / "field").write_text("mine")
    assert main(["new", "field/sub"]) == 2
    said = capsys.readouterr().err
    assert "can't be written" in said
    assert said.count("\n") == 1


def test_a_folder_name_that_is_too_long_is_said(capsys: Capture) -> None:
    """No file system holds a name of 400 letters: one line, no surprise."""
    assert main(["new", "x" * 400]) == 2
    said = capsys.readouterr().err
    assert "can't be written" in said
    assert said.count("\n") == 1


def test_the_schema_is_a_schema_and_the_samples_fit_it(capsys: Capture) -> None:
    """``vrx new --schema`` prints a JSON Schema that the sample plans are valid by. Source: the jsonschema package."""
    assert main(["new", "--schema"]) == 0
    schema = json.loads(capsys.readouterr().out)
    validator = jsonschema.validators.validator_for(schema)
    validator.check_schema(schema)
    for name in NAMES:
        text = (samples.sample_folder() / name / "plan.toml").read_text(encoding="utf-8")
        values = json.loads(json.dumps(tomllib.loads(text), default=str))
        assert [error.message for error in validator(schema).iter_errors(values)] == []


# --- the next field


def test_new_from_a_plan_lists_what_is_to_fill_in(tmp_path: Path, capsys: Capture) -> None:
    """The plan of the sample for another boundary: written beside it, the sample as it was."""
    assert main(["demo", "old", "--field", "bergwind"]) == 0
    before = digests(tmp_path / "old", without="")
    (tmp_path / "next").mkdir()
    write_field(tmp_path / "next")
    capsys.readouterr()
    words = ["new", "next", "--from", "old/plan.toml", "--boundary", "next/boundary.geojson"]
    assert main(words) == 0
    said = capsys.readouterr().out
    for line in ("  field.name, line 10", "  zones.from, line ", "  2 keep-outs (stock dam, nitrogen away from water)"):
        assert line in said
    assert 'boundary = "boundary.geojson"' in (tmp_path / "next" / "plan.toml").read_text(encoding="utf-8")
    assert digests(tmp_path / "old", without="") == before
    assert main([*words, "--json"]) == 2
    assert "--force" in json.loads(capsys.readouterr().out)["errors"][0]["remedy"]
    assert main([*words, "--json", "--force"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["plan"] == str((tmp_path / "next" / "plan.toml").resolve())
    assert [one.partition(",")[0] for one in found["fill_in"]] == ["field.name", "zones.from"]


def test_a_boundary_that_needs_more_is_said(tmp_path: Path, capsys: Capture) -> None:
    """A file without coordinate system is a thing to fill in; one that is not there is an error."""
    assert main(["demo", "old", "--field", "przy_torze"]) == 0
    for path in (tmp_path / "old").glob("boundary.*"):
        if path.suffix != ".prj":
            (tmp_path / path.name).write_bytes(path.read_bytes())
    capsys.readouterr()
    assert main(["new", "next", "--from", "old/plan.toml", "--boundary", "boundary.shp", "--json"]) == 0
    assert "coordinate" in json.loads(capsys.readouterr().out)["fill_in"][-1]
    assert main(["new", "other", "--from", "old/plan.toml", "--boundary", "none.shp"]) == 2
    assert "no such file" in capsys.readouterr().err
    assert not (tmp_path / "other").exists()


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        pytest.param(
            ["new", "next", "--from", "old/plan.toml"], "boundary of the next field is missing", id="boundary"
        ),
        pytest.param(["new", "next", "--boundary", "b.shp"], "goes with --from", id="a boundary alone"),
        pytest.param(
            ["new", "next", "--from", "old/plan.toml", "--boundary", "b.shp", "--units", "us"],
            "does not go with --from",
            id="units",
        ),
        pytest.param(
            ["new", "old", "--from", "old/plan.toml", "--boundary", "b.shp", "--force"],
            "the plan to copy from",
            id="over itself",
        ),
        pytest.param(["new", "next", "--from", "none.toml", "--boundary", "b.shp"], "There is no file", id="no plan"),
    ],
)
def test_a_copy_that_can_not_be_meant_is_one_line(
    words: list[str], problem: str, tmp_path: Path, capsys: Capture
) -> None:
    """Nothing is written."""
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "plan.toml").write_text("[field]\nname = 'a'\nboundary = 'b'\n[zones]\nfrom = 'z'\n")
    before = digests(tmp_path, without="")
    assert main(words) == 2
    said = capsys.readouterr().err
    assert problem in said
    assert said.count("\n") == 1
    assert digests(tmp_path, without="") == before
