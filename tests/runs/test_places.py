"""Errors that are found after the plan was read: they name file, key and line like those of its reader."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from support_cases import write_geojson
from support_fields import SPREADER, bench
from support_plans import build_plan

from vrx.inputs.plan_file import place_of, read_plan

Capture = pytest.CaptureFixture[str]


def line_of(text: str, words: str) -> int:
    (found,) = [number for number, line in enumerate(text.splitlines(), start=1) if words in line]
    return found


@pytest.mark.parametrize(
    ("changes", "key", "words", "problem"),
    [
        pytest.param({"column": "rat"}, "rate[0].column", "column =", "no field 'rat'", id="no such field of rates"),
        pytest.param({"name": "zon"}, "zones.name", 'name = "zon"', "no field 'zon'", id="no such field of names"),
        pytest.param(
            {"rest": '[receiver]\nunit = "L/ha"\n'}, "receiver.unit", "L/ha", "no density", id="a receiver's unit"
        ),
        pytest.param(
            {"products": SPREADER.replace("[[product]]", '[[product]]\non_hand = "900 L"')},
            "product[0].on_hand", "on_hand", "L can't be turned into kg", id="an amount on hand",
        ),
    ],
)  # fmt: skip
def test_an_error_found_later_names_file_key_and_line(
    changes: dict[str, Any], key: str, words: str, problem: str, tmp_path: Path, capsys: Capture
) -> None:
    """As if the reader had found it."""
    plan = bench(tmp_path, **changes)
    out = build_plan(tmp_path, plan, capsys)
    assert out.code == 2
    (error,) = out.said["errors"]
    assert error["where"] == f"plan.toml: {key}, line {line_of(plan, words)}"
    assert problem in error["problem"]
    assert "/ha" not in error["problem"] or key != "product[0].on_hand"


def test_a_key_of_a_shared_file_is_told_there(tmp_path: Path, capsys: Capture) -> None:
    """The amount on hand stands in the file of shared products."""
    (tmp_path / "shared.toml").write_text(
        '# ours\n[[product]]\nname = "Other"\n\n[[product]]\nname = "Granular"\non_hand = "900 L"\n', encoding="utf-8"
    )
    out = build_plan(tmp_path, bench(tmp_path, top='products = "shared.toml"'), capsys)
    assert (out.code, out.said["errors"][0]["where"]) == (2, "shared.toml: product[1].on_hand, line 7")


def test_a_plan_that_was_changed_has_no_lines(tmp_path: Path) -> None:
    """Only the key is known."""
    (tmp_path / "plan.toml").write_text(bench(tmp_path), encoding="utf-8")
    file = read_plan(tmp_path / "plan.toml")
    assert place_of(file, ("zones", "name")).startswith("plan.toml: zones.name, line ")
    changed = type(file)(plan=file.plan, path=file.path, folder=file.folder, sources=file.sources, text="")
    assert place_of(changed, ("zones", "name")) == "zones.name"


def test_a_zone_layer_without_records_is_said_to_be_empty(tmp_path: Path, capsys: Capture) -> None:
    """Nothing is said of a field that it lacks."""
    plan = bench(tmp_path)
    write_geojson(tmp_path / "zones.geojson", [])
    out = build_plan(tmp_path, plan, capsys)
    assert out.code == 2
    assert "zones.geojson holds no record" in out.text


def test_the_name_that_was_meant_is_proposed(tmp_path: Path, capsys: Capture) -> None:
    """A table that says a for zone A."""
    rates = '[[rate]]\nproduct = "Granular"\nby = "table"\ntable = { a = "60 kg/ha", B = "80 kg/ha", C = "0 kg/ha" }\n'
    out = build_plan(tmp_path, bench(tmp_path, rates=rates), capsys)
    assert 'Did you mean "A"?' in out.named("rate-unmatched")[0]["remedy"]
