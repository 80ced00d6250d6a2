"""What docs/check.md shows is what the program says."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PAGE = (ROOT / "docs" / "check.md").read_text(encoding="utf-8")
SHOWN = re.findall(r"```text\n\$ (vrx [^\n]*)\n(.*?)```", PAGE, flags=re.DOTALL)
# The code in a map's name stands for its bytes, which another version of a library may write otherwise.
CODE = re.compile(r"_[0-9a-z]{4}\.shp")


@pytest.fixture(scope="module")
def field(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a copy of the sample field with its bundle."""
    folder = shutil.copytree(ROOT / "sample_fields" / "quail_bench", tmp_path_factory.mktemp("page") / "field")
    assert said(folder, "vrx build plan.toml --no-pictures")
    return folder


def said(folder: Path, command: str) -> str:
    words = shlex.split(command)[1:]
    child = subprocess.run(
        [sys.executable, "-m", "vrx", *words], cwd=folder, env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True, text=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert child.returncode in {0, 1}, child.stderr
    return child.stdout


@pytest.mark.parametrize(("command", "output"), SHOWN, ids=[command for command, _ in SHOWN])
def test_the_output_shown_is_the_output_of_the_check(field: Path, command: str, output: str) -> None:
    """Word for word."""
    for shown in CODE.findall(command):
        (found,) = {path.name[-9:] for path in field.rglob(f"{shlex.split(command)[2].rpartition('/')[2][:-9]}*.shp")}
        command, output = command.replace(shown, found), output.replace(shown, found)
    assert said(field, command) == output


def test_the_page_shows_examples() -> None:
    """A sound map, one that is none, and one of another product."""
    verdicts = [output.split(":")[0].split(" ")[0] for _, output in SHOWN]
    assert verdicts == ["CLEAR", "STOP", "STOP"]


def test_its_exit_codes_and_options_are_those_of_the_command() -> None:
    """Every option that the page names is one that ``vrx check --help`` has."""
    help_text = said(ROOT, "vrx check --help")
    named = set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", re.sub(r"```.*?```", "", PAGE, flags=re.DOTALL)))
    assert len(named) > 10
    assert all(one in help_text for one in named)
