"""Tables of rates from files, through the build."""

from __future__ import annotations

from pathlib import Path

import pytest
from support_cases import write_plain
from support_plans import build_plan, plan_text


def test_a_table_with_decimal_commas_is_read_with_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A semicolon table with 90,5 gives 90.5, though the plan says nothing of a comma, and the comma is noted."""
    zones = write_plain(tmp_path)
    (tmp_path / "rates.csv").write_text("ZONE;rate\nA;90,5\nB;120,25\nC;150\n", encoding="utf-8")
    rates = '[[rate]]\nproduct = "Granular"\nby = "table"\ntable = "rates.csv"\nunit = "kg/ha"\n'
    out = build_plan(tmp_path, plan_text(zones=zones.name, boundary=zones.name, name="ZONE", rates=rates), capsys)
    assert out.wanted() == {"A": 90.5, "B": 120.25, "C": 150}
    assert out.named("decimal-comma")
