"""What docs/ready.md shows is what the program says."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from test_check_page import ROOT, said

PAGE = (ROOT / "docs" / "ready.md").read_text(encoding="utf-8")
SHOWN = re.findall(r"```text\n\$ (vrx [^\n]*)\n(.*?)```", PAGE, flags=re.DOTALL)


@pytest.fixture(scope="module")
def field(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a copy of the sample field with its bundle."""
    folder = shutil.copytree(ROOT / "sample_fields" / "quail_bench", tmp_path_factory.mktemp("page") / "field")
    assert said(folder, "vrx build plan.toml --no-pictures")
    return folder


@pytest.mark.parametrize(("command", "output"), SHOWN, ids=[command for command, _ in SHOWN])
def test_the_output_shown_begins_that_of_the_walk_through(field: Path, command: str, output: str) -> None:
    """Word for word, as far as it is shown."""
    assert said(field, command).startswith(output)


def test_its_options_are_those_of_the_command() -> None:
    """Every option that the page names is one that ``vrx ready --help`` has."""
    help_text = said(ROOT, "vrx ready --help")
    named = set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", PAGE))
    assert len(named) > 4
    assert all(one in help_text for one in named)
