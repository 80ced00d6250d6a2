"""Amounts that do not convert: one line each, with key and line, before anything is written."""

from __future__ import annotations

from pathlib import Path

import pytest
from support_fields import SPREADER, bench
from support_good_plan import line_of
from support_plans import build_plan
from support_products import granular, product
from support_zone_maps import plan_of

from vrx.errors import Problems
from vrx.model.plan import Plan
from vrx.runs.amounts import amounts_must_convert


def places(plan: Plan) -> dict[str, str]:
    with pytest.raises(Problems) as caught:
        amounts_must_convert(plan)
    return {one.where: f"{one.problem} {one.remedy}" for one in caught.value.each}


def test_all_of_them_are_told_each_with_its_key() -> None:
    """Price, package, stock and every amount of a box: the figure of the product that is missing is named."""
    tank = [
        {"product": "Granular B", "size": "900 L", "keep_back": "5 kg", "most_weight": "800 kg"},
        {"product": "Liquid A", "size": "900 L", "keep_back": "5 kg", "most_weight": "800 kg"},
        {"product": "Liquid A", "size": "900 L"},
    ]
    of = granular(price="3 EUR/L", package="20 L", on_hand="500 L")
    plan = plan_of(of, product(price="3 EUR/kg"), machine={"tank": tank})
    found = places(plan)
    assert list(found) == [
        "product[0].price", "product[0].package", "product[0].on_hand", "product[1].price",
        "machine.tank[0].size", "machine.tank[1].keep_back", "machine.tank[1].most_weight",
    ]  # fmt: skip
    assert all("density" in words for words in found.values())


@pytest.mark.parametrize(
    "keys",
    [
        pytest.param({"keep_back": "900 kg"}, id="heavier than what it may hold"),
        pytest.param({"keep_back": "500 L", "most_weight": "475 kg"}, id="its weight lets no more in"),
    ],
)
def test_a_box_that_puts_out_nothing(keys: dict[str, str]) -> None:
    """Only the density tells that all of it stays in."""
    of = granular(density="0.95 kg/L")
    plan = plan_of(of, machine={"tank": {"product": "Granular B", "size": "900 L"} | keys})
    ((where, words),) = places(plan).items()
    assert where == "machine.tank[0].keep_back"
    assert "leaves nothing to put out" in words


def test_what_converts_is_fine() -> None:
    """All given, in other units than the product's."""
    of = granular(density="0.95 kg/L", price="3 EUR/L", package="20 L", on_hand="500 L")
    amounts_must_convert(plan_of(of, machine={"tank": {"product": "Granular B", "size": "900 L"}}))


@pytest.mark.parametrize(
    ("keys", "rest", "key"),
    [
        pytest.param('price = "3 EUR/L" #<', "", "product[0].price", id="a price by volume"),
        pytest.param(
            "",
            '[machine]\ntank = { product = "Granular", size = "900 L" } #<',
            "machine.tank.size",
            id="a bin by volume, in one table",
        ),
        pytest.param(
            "",
            '[[machine.tank]]\nproduct = "Granular"\nsize = "1 kg"\n'
            '[[machine.tank]]\nproduct = "Granular"\nkeep_back = "0 kg"\nsize = "900 L" #<',
            "machine.tank[1].size",
            id="a bin by volume, the second",
        ),
    ],
)
def test_key_and_line(keys: str, rest: str, key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One error with the line in the plan, exit code 2, and nothing written."""
    text = bench(tmp_path, products=SPREADER + keys, rest=rest)
    out = build_plan(tmp_path, text, capsys)
    assert out.code == 2
    (error,) = out.said["errors"]
    assert error["where"] == f"plan.toml: {key}, line {line_of(text)}"
    assert "'Granular' has no density" in error["problem"]
    assert not (tmp_path / "plan-bundle").exists()


def test_a_box_of_a_shared_machine_is_named_in_its_own_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """File and line of the shared machine, whose units are its own: cwt is a US measure there."""
    text = bench(tmp_path, products=SPREADER, top='machines = "machines.toml"', rest='[machine]\nname = "spreader"')
    shared = 'units = "us"\n[[machine]]\nname = "spreader"\n[machine.tank]\nproduct = "Granular"\nsize = "{size}" #<\n'
    (tmp_path / "machines.toml").write_text(shared.format(size="900 gal"), encoding="utf-8")
    out = build_plan(tmp_path, text, capsys)
    (error,) = out.said["errors"]
    assert error["where"] == f"machines.toml: machine[0].tank.size, line {line_of(shared)}"
    (tmp_path / "machines.toml").write_text(shared.format(size="10 cwt"), encoding="utf-8")
    found = build_plan(tmp_path, text, capsys).said["products"][0]["loads"]
    assert found["each"] == pytest.approx(1000 * 0.45359237)  # a US hundredweight is 100 lb: NIST Handbook 44, C
