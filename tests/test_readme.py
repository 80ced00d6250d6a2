"""What the README shows is what the program does."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def block(language: str) -> str:
    (found,) = re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)
    return found


def test_the_plan_shown_is_the_plan_of_the_sample() -> None:
    """Every line of the excerpt stands in the sample's plan, in the same order; remarks may be left out."""
    kept = (ROOT / "sample_fields" / "quail_bench" / "plan.toml").read_text(encoding="utf-8").splitlines()
    lines = iter(line.split("  #")[0].rstrip() for line in kept)
    for line in filter(None, block("toml").splitlines()):
        assert line in lines, line


def test_the_output_shown_is_the_output_of_the_build(tmp_path: Path) -> None:
    """Every stretch of the shown output, between dots, is in what ``vrx build`` prints, word for word."""
    field = shutil.copytree(ROOT / "sample_fields" / "quail_bench", tmp_path / "field")
    child = subprocess.run(
        [sys.executable, "-m", "vrx", "build", str(field / "plan.toml"), "--out", str(tmp_path / "bundle")],
        cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert child.returncode == 0, child.stderr
    stretches = block("text").split("...\n")
    assert len(stretches) > 2
    for stretch in stretches:
        assert stretch in child.stdout


def test_the_commands_named_are_there() -> None:
    """Each ``vrx COMMAND`` of the README is one that the program knows."""
    child = subprocess.run(
        [sys.executable, "-m", "vrx", "--help"], cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=True
    )
    named = set(re.findall(r"`vrx (\w+)", README))
    assert named >= {"build", "demo", "new"}
    for command in named:
        assert re.search(rf"^\s+{command}\s", child.stdout, flags=re.MULTILINE), command


def test_the_picture_shown_is_the_picture_of_the_build(tmp_path: Path) -> None:
    """The README opens with the sample's map as ``vrx build`` draws it; other versions of the libraries may differ by
    the edges of letters."""
    from PIL import Image

    from vrx.runs.build import build

    (shown,) = re.findall(r"\((docs/\S+\.png)\)", README.split("##")[0])
    field = shutil.copytree(ROOT / "sample_fields" / "quail_bench", tmp_path / "field")
    bundle = build(field / "plan.toml").bundle
    assert bundle
    old, new = (Image.open(path).convert("L") for path in (ROOT / shown, bundle / "paper" / "map.png"))
    assert old.size == new.size
    small = [np.asarray(image.resize((170, 220)), dtype=float) for image in (old, new)]
    assert np.abs(small[0] - small[1]).mean() < 1
