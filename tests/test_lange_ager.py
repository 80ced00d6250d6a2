"""Lange Ager: two overlays, two zone layers and a swap, and every number on its card done by hand."""

from __future__ import annotations

import io
import re
import shutil
from pathlib import Path

import pypdf
import pytest

from vrx.cli.main import main

ROOT = Path(__file__).resolve().parents[1] / "sample_fields" / "lange_ager"
HA = 10_000.0

# --- by hand: 600 m x 400 m, a lap of 24 m, a hollow of 100 m x 60 m, halves west and east, south and north
FIELD = 600 * 400 / HA
INSIDE = 552 * 352 / HA
HOLLOW = 100 * 60 / HA
END_ROWS = FIELD - INSIDE
ROUNDED = {"CAN 27": (54 / 0.27, 81 / 0.27), "Urea 46": (120.0, 180.0)}


def nitrogen(product: str) -> float:
    """Sand and clay, whole inside and half on the end rows, without the hollow in the sand."""
    sand, clay = ROUNDED[product]
    return sand * (INSIDE / 2 - HOLLOW) + clay * INSIDE / 2 + (sand / 2 + clay / 2) * END_ROWS / 2


POTASH = 100 * (FIELD / 2 - HOLLOW) + 150 * FIELD / 2


def card(folder: Path, *options: str) -> str:
    """Build the sample, and return the text of its card, white space made single."""
    shutil.copytree(ROOT, folder / "field")
    assert main(["build", str(folder / "field" / "plan.toml"), "--out", str(folder / "bundle"), *options]) == 0
    pages = pypdf.PdfReader(io.BytesIO((folder / "bundle" / "paper" / "cab-card.pdf").read_bytes())).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


@pytest.mark.parametrize(
    ("product", "options"), [("CAN 27", ()), ("Urea 46", ("--swap", "CAN 27=Urea 46"))], ids=["as planned", "swapped"]
)
def test_totals_and_areas_on_the_card_are_those_done_by_hand(
    product: str, options: tuple[str, ...], tmp_path: Path
) -> None:
    """5308.8 kg of CAN, or what 120 and 180 kg/ha of urea come to; 2940 kg of potash; 24 ha each."""
    text = card(tmp_path, *options)
    assert f"{nitrogen(product):,.1f} kg" in text
    assert f"{POTASH:,.1f} kg" in text
    assert f"{FIELD:.3f} ha" in text
    assert product in text
    if options:
        assert "CAN 27" in re.search(r"(?i)changed for this build.{0,80}", text)[0]  # type: ignore[index]  # or it fails
    else:
        assert "Urea" not in text


def test_the_story_has_the_same_numbers() -> None:
    """The README's sums are these."""
    story = (ROOT / "README.md").read_text(encoding="utf-8")
    assert f"{nitrogen('CAN 27'):.1f} kg" in story
    assert f"{POTASH:.0f} kg" in story
    assert f"{END_ROWS:.4f}" in story
    assert [round(54 / 0.46, 1), round(81 / 0.46, 1)] == [117.4, 176.1]
