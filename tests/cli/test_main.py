"""The command line as a process: help, errors, pipes, terminals, signals."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from support_fields import bench

from vrx import __version__
from vrx.cli import build as build_command
from vrx.cli.main import main

ROOT = Path(__file__).resolve().parents[2]
HEAVY = {"numpy", "shapely", "pyproj", "pydantic", "fiona", "pyogrio", "pandas", "geopandas", "matplotlib", "rasterio"}
COMMANDS = ("build", "demo", "new")

Capture = pytest.CaptureFixture[str]
posix = pytest.mark.skipif(sys.platform == "win32", reason="pipes and signals of POSIX")


def environment(**changes: str) -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(ROOT)} | changes


def vrx(*words: str, env: dict[str, str] | None = None, **options: Any) -> subprocess.CompletedProcess[bytes]:
    """Run ``python -m vrx`` with its output as bytes."""
    options = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | options
    return subprocess.run(
        [sys.executable, "-m", "vrx", *words], env=env or environment(), check=False, timeout=60, **options
    )


def bench_plan(folder: Path, **changes: Any) -> Path:
    plan = folder / "plan.toml"
    plan.write_text(bench(folder, **changes), encoding="utf-8")
    return plan


# --- help and version


def test_help_names_every_command_and_the_exit_codes(capsys: Capture) -> None:
    """The first thing that a newcomer reads says what there is and how a script sees the outcome."""
    assert main(["--help"]) == 0
    said = capsys.readouterr().out
    for word in (*COMMANDS, "0 fine", "1 a finding", "2 the input"):
        assert word in said


def test_no_words_are_a_call_for_help(capsys: Capture) -> None:
    """``vrx`` alone prints what ``vrx --help`` prints."""
    assert main([]) == 0
    bare = capsys.readouterr().out
    assert main(["--help"]) == 0
    assert capsys.readouterr().out == bare


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself(command: str, capsys: Capture) -> None:
    """Its help starts with how to call it, and every option has words to it."""
    assert main([command, "--help"]) == 0
    said = capsys.readouterr().out
    assert said.startswith(f"usage: vrx {command}")
    lines = said.splitlines()
    options = [at for at, line in enumerate(lines) if line.startswith(("  --", "  -h"))]
    assert options
    for at in options:
        explained = lines[at].split(None, 1)[1:] or [""]
        assert "  " in lines[at].strip() or lines[at + 1].startswith("      "), explained


def test_version(capsys: Capture) -> None:
    """``vrx --version`` is the package's version."""
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"vrx {__version__}\n"


@pytest.mark.parametrize("words", [["--help"], ["--version"], ["build", "--help"], ["bild"]], ids=" ".join)
def test_help_loads_nothing_heavy(words: list[str]) -> None:
    """Help, version and a mistyped command answer at once: no library that takes long is loaded."""
    code = (
        "import sys\nfrom vrx.cli.main import main\ncode = main(sys.argv[1:])\n"
        "print('LOADED', *sorted({name.split('.')[0] for name in sys.modules}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *words], env=environment(), capture_output=True, text=True, check=True, timeout=60
    )
    loaded = set(done.stdout.splitlines()[-1].split()[1:])
    assert "vrx" in loaded
    assert not loaded & HEAVY


def test_python_m_vrx_is_vrx() -> None:
    """The module runs as the command does, under the same name."""
    done = vrx("--help")
    assert done.returncode == 0
    assert done.stdout.startswith(b"usage: vrx ")


# --- calls that can't be used


@pytest.mark.parametrize(
    ("words", "say"),
    [
        pytest.param(["bild"], ["'bild'", "build"], id="an unknown command"),
        pytest.param(["build"], ["PLAN", "vrx build --help"], id="no plan"),
        pytest.param(["build", "a.toml", "--frobnicate"], ["--frobnicate"], id="an unknown option"),
        pytest.param(["build", "a.toml", "--jso"], ["--jso"], id="half of an option"),
        pytest.param(["build", "a.toml", "b.toml"], ["b.toml"], id="one plan too many"),
        pytest.param(["build", "a.toml", "--out"], ["--out"], id="no folder behind --out"),
        pytest.param(["new", "x", "--units", "imperial"], ["us", "metric"], id="units of neither kind"),
        pytest.param(["new"], ["vrx new DIR"], id="new without a folder"),
        pytest.param(["demo", "x", "--field", "nowhere"], ["quail_bench"], id="a sample that is not there"),
    ],
)
def test_a_wrong_call_is_one_line(
    words: list[str], say: list[str], tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It ends with 2; one line on standard error says what is wrong and what would be right; nothing is written."""
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith("vrx: ")
    assert printed.err.count("\n") == 1
    for word in say:
        assert word in printed.err
    assert not list(tmp_path.iterdir())


def test_a_wrong_call_with_json_prints_errors_as_json(capsys: Capture) -> None:
    """A script that asked for JSON gets JSON, whatever is wrong with the call."""
    assert main(["build", "--json", "--frobnicate", "x"]) == 2
    (error,) = json.loads(capsys.readouterr().out)["errors"]
    assert error.keys() == {"problem", "remedy", "where"}
    assert "--frobnicate" in error["problem"]


def test_every_problem_of_a_plan_is_a_line(tmp_path: Path, capsys: Capture) -> None:
    """Three mistakes in a plan are three lines, each with the line of the plan; and three objects in JSON."""
    plan = bench_plan(tmp_path)
    text = plan.read_text(encoding="utf-8")
    text = text.replace('min = "20 kg/ha"', "min = 20").replace("season", "saeson").replace("zones.geojson", "gone.shp")
    plan.write_text(text, encoding="utf-8")
    assert main(["build", str(plan), "--json"]) == 2
    printed = capsys.readouterr()
    errors = json.loads(printed.out)["errors"]
    assert len(errors) == printed.err.count("\n") == 3
    assert all("line" in one["where"] and one["remedy"] for one in errors)


# --- the last resort


def test_a_bug_is_a_line_and_a_traceback_only_on_demand(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An error that nobody foresaw ends with 2 and a line on how to report it; VRX_TRACEBACK=1 shows the place."""

    def broken(*_: object, **__: object) -> int:
        raise ZeroDivisionError("a bug")

    monkeypatch.setattr(build_command, "show", broken)
    plan = bench_plan(tmp_path)
    monkeypatch.delenv("VRX_TRACEBACK", raising=False)
    assert main(["build", str(plan)]) == 2
    said = capsys.readouterr().err
    assert "should not have happened: ZeroDivisionError: a bug" in said
    assert said.count("\n") == 1
    monkeypatch.setenv("VRX_TRACEBACK", "1")
    assert main(["build", str(plan), "--force", "--json"]) == 2
    printed = capsys.readouterr()
    assert "Traceback (most recent call last)" in printed.err
    assert "should not have happened" in json.loads(printed.out)["errors"][0]["problem"]


def test_too_little_memory_is_said(tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    """Memory that runs out is no riddle."""

    def greedy(*_: object, **__: object) -> int:
        raise MemoryError

    monkeypatch.setattr(build_command, "show", greedy)
    assert main(["build", str(bench_plan(tmp_path))]) == 2
    assert "too little memory" in capsys.readouterr().err


# --- standard output that is closed, full, or lacks letters


@posix
@pytest.mark.parametrize(
    ("words", "code"),
    [
        pytest.param(["--help"], 0, id="help"),
        pytest.param(["new", "--schema"], 0, id="much text"),
        pytest.param(["build", "{plan}", "--force"], 0, id="a build"),
        pytest.param(["build", "{plan}", "--force", "--json"], 0, id="a build as JSON"),
        pytest.param(["build", "nowhere.toml", "--json"], 2, id="an error as JSON"),
    ],
)
def test_a_reader_that_has_seen_enough(words: list[str], code: int, tmp_path: Path) -> None:
    """``vrx ... | head -0``: no traceback, and the exit code is that of the work."""
    plan = bench_plan(tmp_path)
    reader, writer = os.pipe()
    os.close(reader)
    done = vrx(*(word.format(plan=plan) for word in words), stdout=writer)
    os.close(writer)
    assert done.returncode == code
    assert done.stderr.count(b"\n") == (1 if code else 0), done.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device that is always full")
@pytest.mark.parametrize("words", [["--help"], ["new", "--schema"], ["build", "{plan}", "--json"]], ids=" ".join)
def test_output_that_finds_no_room_is_an_error(words: list[str], tmp_path: Path) -> None:
    """``vrx ... > FILE`` on a full disk ends with 2 and says why, in one line."""
    plan = bench_plan(tmp_path)
    with Path("/dev/full").open("wb") as full:
        done = vrx(*(word.format(plan=plan) for word in words), stdout=full)
    assert done.returncode == 2
    assert b"can't be printed: No space left on device" in done.stderr
    assert done.stderr.count(b"\n") == 1


@posix
def test_output_that_is_closed_is_no_error(tmp_path: Path) -> None:
    """``vrx build ... >&-`` does its work in silence."""
    plan = bench_plan(tmp_path)
    done = subprocess.run(
        ["sh", "-c", '"$0" -m vrx build "$1" >&-', sys.executable, str(plan)],
        env=environment(), stderr=subprocess.PIPE, check=False, timeout=60,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")
    assert (tmp_path / "plan-bundle" / "manifest.json").is_file()


def test_names_in_files_do_not_steer_a_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A zone whose name holds an escape sequence and a line end is shown with both spelled out, on one line."""
    plan = bench_plan(tmp_path)
    zones = tmp_path / "zones.geojson"
    zones.write_text(zones.read_text().replace('"zone": "A"', '"zone": "A\\u001b[31m\\nred"'))
    assert main(["build", str(plan)]) == 0
    said = capsys.readouterr().out
    assert "\x1b" not in said
    assert "A\\x1b[31m\\nred  " in said
    assert main(["build", "no\x1b[31m.toml"]) == 2
    assert "\x1b" not in capsys.readouterr().err


@posix
def test_complaints_without_a_standard_error_stay_out_of_the_result() -> None:
    """``vrx build ... --json 2>&-``: standard output holds one JSON object and nothing else."""
    done = subprocess.run(
        ["sh", "-c", '"$0" -m vrx build nowhere.toml --json 2>&-', sys.executable],
        env=environment(), stdout=subprocess.PIPE, check=False, timeout=60,
    )  # fmt: skip
    assert done.returncode == 2
    assert list(json.loads(done.stdout)) == ["errors"]


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "utf-8"])
def test_letters_that_a_terminal_lacks(encoding: str, tmp_path: Path) -> None:
    """Words show a stand-in for such a letter; JSON loses none, nor does the name of the field."""
    plan = bench_plan(tmp_path)
    name = "Łąka é поле"
    plan.write_text(plan.read_text(encoding="utf-8").replace("Test field", name), encoding="utf-8")
    env = environment(PYTHONIOENCODING=encoding)
    words = vrx("build", str(plan), env=env)
    assert (words.returncode, words.stderr) == (0, b"")
    assert name.encode(encoding, errors="replace") in words.stdout
    said = vrx("build", str(plan), "--force", "--json", env=env)
    assert json.loads(said.stdout.decode(encoding))["field"]["name"] == name
    error = vrx("build", str(tmp_path / "ждать.toml"), "--json", env=env)
    assert error.returncode == 2
    assert json.loads(error.stdout.decode(encoding))["errors"][0]["where"].endswith("ждать.toml")
    assert "ждать.toml".encode(encoding, errors="replace") in error.stderr


# --- Ctrl-C


def test_ctrl_c_is_said_in_a_line(tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    """It ends with 130, as a shell expects, without a traceback."""

    def slow(*_: object, **__: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(build_command, "show", slow)
    assert main(["build", str(bench_plan(tmp_path))]) == 130
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith("Stopped.")
    assert printed.err.count("\n") == 1


@posix
def test_ctrl_c_while_files_are_written(tmp_path: Path) -> None:
    """A signal in the middle of writing leaves the old bundle, nothing beside it, and ends with 130."""
    plan = bench_plan(tmp_path)
    assert main(["build", str(plan)]) == 0
    before = (tmp_path / "plan-bundle" / "manifest.json").read_bytes()
    code = (
        "import sys, time\nfrom vrx.runs import bundle\nfrom vrx.cli.main import main\n"
        "def slow(*_):\n    print('writing', flush=True)\n    time.sleep(30)\n"
        "bundle.write_sheet = slow\nsys.exit(main(['build', sys.argv[1], '--force']))\n"
    )
    plan.write_text("revision = 2\n" + plan.read_text(encoding="utf-8"), encoding="utf-8")
    child = subprocess.Popen(
        [sys.executable, "-c", code, str(plan)], env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert child.stdout
    assert child.stdout.readline() == b"writing\n"
    time.sleep(0.05)
    child.send_signal(signal.SIGINT)
    _, said = child.communicate(timeout=30)
    assert child.returncode == 130
    assert said.startswith(b"Stopped.")
    assert said.count(b"\n") == 1
    assert (tmp_path / "plan-bundle" / "manifest.json").read_bytes() == before
    assert not list(tmp_path.glob(".*"))
