"""Plans for tests: short ones written from keyword arguments, built through the command line."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from vrx.cli.main import main

GRANULAR = """
[[product]]
name = "Granular"
form = "granular"
use = "fertiliser"
min = "1 kg/ha"
max = "900000 kg/ha"
step = "1 kg/ha"
"""

BY_COLUMN = """
[[rate]]
product = "Granular"
by = "column"
column = "{column}"
unit = "kg/ha"
"""


@dataclass(frozen=True)
class Outcome:
    """What a command printed and how it ended."""

    code: int
    said: dict[str, Any]
    stderr: str

    @property
    def findings(self) -> list[dict[str, Any]]:
        return self.said.get("findings", [])

    @property
    def text(self) -> str:
        """Everything that a person would read."""
        errors = [f"{one['problem']} {one['remedy']} {one['where']}" for one in self.said.get("errors", [])]
        return "\n".join([*errors, *(f"{one['message']} {one['remedy']}" for one in self.findings)])

    @property
    def outcome(self) -> str:
        """The outcome in the words of the reference cases."""
        worst = {one["severity"] for one in self.findings}
        if self.code == 2 or "stop" in worst:
            return "refuse"
        return "warn" if "caution" in worst else "repair_notice" if worst else "repair_silent"

    def named(self, name: str) -> list[dict[str, Any]]:
        return [one for one in self.findings if one["id"] == name]

    def hectares(self, product: int = 0) -> dict[str, float]:
        areas: dict[str, float] = {}
        for row in self.said["products"][product]["zones"]:
            areas[row["zone"]] = areas.get(row["zone"], 0) + row["geodesic_area_m2"] / 1e4
        return areas

    def wanted(self, product: int = 0) -> dict[str, float | None]:
        return {row["zone"]: row["wanted"] for row in self.said["products"][product]["zones"]}

    def given(self, product: int = 0) -> dict[str, float]:
        return {row["zone"]: row["given"] for row in self.said["products"][product]["zones"]}

    def file(self, form: str) -> Path:
        return next(Path(one["path"]) for one in self.said["files"] if one["format"] == form)


def plan_text(
    *,
    zones: str | Sequence[str],
    boundary: str | Sequence[str],
    name: str = "zone",
    column: str = "rate",
    crs: str = "",
    top: str = "",
    zone_keys: str = "",
    products: str = GRANULAR,
    rates: str = "",
    rest: str = "",
) -> str:
    """Return a plan: metric, one granular product by a column of the zone layer unless said."""
    said = f'crs = "{crs}"\n' if crs else ""
    return (
        f'units = "metric"\n{top}\n[field]\nname = "Test field"\nseason = 2027\n'
        f"boundary = {json.dumps(boundary)}\n{said}{products}\n"
        f'[zones]\nfrom = {json.dumps(zones)}\nname = "{name}"\n{said}{zone_keys}\n'
        f"{rates or BY_COLUMN.format(column=column)}\n{rest}"
    )


def build_plan(
    folder: Path, text: str, capsys: pytest.CaptureFixture[str], *options: str, pictures: bool = False
) -> Outcome:
    """Write a plan into a folder that holds its files, and build it through the command line."""
    plan = folder / "plan.toml"
    plan.write_text(text, encoding="utf-8")
    capsys.readouterr()
    code = main(["build", str(plan), "--json", *([] if pictures else ["--no-pictures"]), *options])
    printed = capsys.readouterr()
    return Outcome(code=code, said=json.loads(printed.out), stderr=printed.err)
