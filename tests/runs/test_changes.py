"""Last-minute changes of a build: values set, products swapped, and what the new bundle says of both."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from support_fields import bench
from support_plans import build_plan

from vrx.reports.content_json import read_content
from vrx.reports.terminal import build_text
from vrx.runs.build import build

Capture = pytest.CaptureFixture[str]

# Wanted on the field of support_fields: 85 x 4.5 + 115 x 3 + 140 x 3 = 1147.5 kg.
UREA = """
[[product]]
name = "Granular"
form = "granular"
use = "fertiliser"
min = "20 kg/ha"
max = "700 kg/ha"
step = "5 kg/ha"
analysis = { N = "46 %" }
"""
SHARED = """
units = "metric"

[[product]]
name = "Amsul"
form = "granular"
use = "fertiliser"
min = "20 kg/ha"
max = "900 kg/ha"
step = "5 kg/ha"
analysis = { N = "21 %", S = "24 %" }

[[product]]
name = "Solution"
form = "liquid"
use = "fertiliser"
min = "20 L/ha"
max = "900 L/ha"
step = "5 L/ha"
density = "1.25 kg/L"
analysis = { N = "30 %" }

[[product]]
name = "Slag"
form = "granular"
use = "fertiliser"
min = "20 kg/ha"
max = "900 kg/ha"
step = "5 kg/ha"

[[product]]
name = "Phosphate"
form = "granular"
use = "fertiliser"
min = "20 kg/ha"
max = "900 kg/ha"
step = "5 kg/ha"
analysis = { P2O5 = "46 %" }
"""
BY_COLUMN = '\n[[rate]]\nproduct = "{product}"\nby = "column"\ncolumn = "rate"\nunit = "{unit}"\n'


def plan_of(
    folder: Path, *, product: str = "Granular", unit: str = "kg/ha", products: str = UREA, rates: str = ""
) -> str:
    (folder / "products.toml").write_text(SHARED, encoding="utf-8")
    by = rates or BY_COLUMN.format(product=product, unit=unit)
    return bench(folder, top='products = "products.toml"', products=products, rates=by)


def manifest(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    return found


# --- values


def test_a_set_value_is_in_force_and_kept(tmp_path: Path, capsys: Capture) -> None:
    """The map, the manifest, the report and the card have it; the plan's file and its text in the manifest do not."""
    text = plan_of(tmp_path)
    said = "product[Granular].max=120 kg/ha"
    found = build_plan(tmp_path, text, capsys, "--set", said, pictures=True)
    assert found.given() == {"A": 85, "B": 115, "C": 120}
    told = 'product[Granular].max = "120 kg/ha" (in the plan "700 kg/ha")'
    assert found.said["changes"] == [{"option": "--set", "said": said, "text": told}]
    kept = manifest(tmp_path / "plan-bundle")
    assert kept["changes"] == found.said["changes"]
    assert kept["plan"]["text"] == text == (tmp_path / "plan.toml").read_text(encoding="utf-8")
    content = read_content((tmp_path / "plan-bundle/paper/report.json").read_bytes(), source="report.json")
    assert [one.value for one in content.facts if one.label == "Changed for this build"] == [told]
    assert f"vrx build plan.toml --set '{said}'" in " ".join(content.reproduce)
    assert told in (tmp_path / "plan-bundle/paper/report.html").read_text(encoding="utf-8")


def test_the_terminal_says_it_before_the_rates(tmp_path: Path) -> None:
    """A build that is not the plan's own says so at its head."""
    (tmp_path / "plan.toml").write_text(plan_of(tmp_path), encoding="utf-8")
    said = build_text(build(tmp_path / "plan.toml", sets=["field.crop=barley"], pictures=False)).splitlines()
    assert said[:2] == [
        "Test field, 2027, barley",
        'Changed for this build: field.crop = "barley" (not in the plan)',
    ]


def test_a_wrong_value_writes_nothing(tmp_path: Path, capsys: Capture) -> None:
    """Exit 2, one line, the option named; no bundle."""
    found = build_plan(tmp_path, plan_of(tmp_path), capsys, "--set", "product[Granular].max=120 gal/ac")
    assert found.code == 2
    assert [one["where"] for one in found.said["errors"]] == ["--set product[Granular].max"]
    assert not (tmp_path / "plan-bundle").exists()


# --- what it supersedes


def test_a_changed_build_says_which_bundle_it_takes_the_place_of(tmp_path: Path, capsys: Capture) -> None:
    """In the same folder with --force, and elsewhere too: the plan's own bundle may be on a stick already."""
    text = plan_of(tmp_path)
    build_plan(tmp_path, text, capsys, "--no-pictures")
    before = [one["name"] for one in manifest(tmp_path / "plan-bundle")["maps"]]
    changed = ("--set", "product[Granular].max=120 kg/ha", "--no-pictures")
    elsewhere = tmp_path / "elsewhere"
    build_plan(tmp_path, text, capsys, *changed, "--out", str(elsewhere))
    build_plan(tmp_path, text, capsys, *changed, "--force")
    for bundle in (elsewhere, tmp_path / "plan-bundle"):
        assert manifest(bundle)["supersedes"] == {"revision": 1, "maps": before}
        assert [one["name"] for one in manifest(bundle)["maps"]] != before


def test_an_unchanged_build_elsewhere_supersedes_nothing(tmp_path: Path, capsys: Capture) -> None:
    """Without changes a bundle in another folder is a copy, not a successor."""
    text = plan_of(tmp_path)
    build_plan(tmp_path, text, capsys, "--no-pictures")
    build_plan(tmp_path, text, capsys, "--no-pictures", "--out", str(tmp_path / "copy"))
    assert manifest(tmp_path / "copy")["supersedes"] is None


# --- products


def test_rates_wanted_as_a_nutrient_are_worked_out_anew(tmp_path: Path, capsys: Capture) -> None:
    """85 kg N/ha is 404.8 kg/ha of a product with 21 % N; what else that product brings is a caution."""
    found = build_plan(tmp_path, plan_of(tmp_path, unit="kg N/ha"), capsys, "--swap", "Granular=Amsul", "--no-pictures")
    wanted = found.wanted()
    assert wanted == pytest.approx({"A": 85 / 0.21, "B": 115 / 0.21, "C": 140 / 0.21})
    (one,) = found.named("swap-nutrients")
    # Sulphur, at 24 : 21 beside the nitrogen: 1147.5 x 24 / 21 = 1311.4 kg. Nitrogen itself stays.
    assert one["message"].endswith("by the rates that the plan wants: 1,311.4 kg S instead of none.")
    assert one["severity"] == "caution"
    assert one["product"] == "Amsul"


def test_rates_wanted_as_product_are_kept_and_the_change_in_nutrients_told(tmp_path: Path, capsys: Capture) -> None:
    """1147.5 kg of 46 % N bring 527.85 kg, of 21 % N 240.975 kg: 286.875 kg or 54.3 % less."""
    found = build_plan(tmp_path, plan_of(tmp_path), capsys, "--swap", "Granular=Amsul", "--no-pictures")
    assert found.given() == {"A": 85, "B": 115, "C": 140}
    (one,) = found.named("swap-nutrients")
    assert one["message"] == (
        "Amsul in place of Granular, by the rates that the plan wants: "
        "241 kg N instead of 527.9 (286.9 less, 54.3 %); 275.4 kg S instead of none."
    )
    assert manifest(tmp_path / "plan-bundle")["changes"][0]["text"] == "Amsul instead of Granular"


def test_mass_stays_mass_in_a_liquid(tmp_path: Path, capsys: Capture) -> None:
    """A rate in kg/ha of product holds for a liquid with a density: 85 kg/ha is 68 L/ha at 1.25 kg/L."""
    found = build_plan(tmp_path, plan_of(tmp_path), capsys, "--swap", "Granular=Solution", "--no-pictures")
    assert found.wanted() == pytest.approx({"A": 68, "B": 92, "C": 112})
    (one,) = found.named("swap-nutrients")
    assert "344.3 kg N instead of 527.9" in one["message"]  # 1147.5 x 0.30 = 344.25


def test_the_steps_of_the_two_products_play_no_part(tmp_path: Path, capsys: Capture) -> None:
    """Two products with the same analysis and other steps bring the same by what is wanted: nothing to say."""
    twin = UREA.replace('"Granular"', '"Twin"').replace('step = "5 kg/ha"', 'step = "50 kg/ha"')
    text = plan_of(tmp_path)
    (tmp_path / "products.toml").write_text('units = "metric"\n' + twin, encoding="utf-8")
    found = build_plan(tmp_path, text, capsys, "--swap", "Granular=Twin", "--no-pictures")
    assert found.given() == {"A": 100, "B": 100, "C": 150}
    assert not found.named("swap-nutrients")


def test_a_product_without_analysis_is_said_so(tmp_path: Path, capsys: Capture) -> None:
    """What it brings is not known, which is a caution as well."""
    found = build_plan(tmp_path, plan_of(tmp_path), capsys, "--swap", "Granular=Slag", "--no-pictures")
    assert "Slag has no analysis to compare" in found.named("swap-nutrients")[0]["message"]


def test_a_nutrient_that_the_new_product_lacks_is_refused(tmp_path: Path, capsys: Capture) -> None:
    """Wanted as N, a product without N can't be it: one line that names the option."""
    found = build_plan(tmp_path, plan_of(tmp_path, unit="kg N/ha"), capsys, "--swap", "Granular=Phosphate")
    assert found.code == 2
    (error,) = found.said["errors"]
    assert error["where"] == "--swap Granular=Phosphate"
    assert error["problem"] == "'Phosphate' carries P2O5, not N: kg N/ha can't be turned into it."


LIQUID = SHARED[SHARED.index('[[product]]\nname = "Solution"') : SHARED.index('[[product]]\nname = "Slag"')]
LITRES = '\n[[rate]]\nproduct = "Solution"\nby = "table"\ntable = { A = "100 L/ha", B = "0 L/ha", C = "150 L/ha" }\n'


@pytest.mark.parametrize(
    "rates",
    [
        pytest.param(LITRES, id="a table"),
        pytest.param(BY_COLUMN.format(product="Solution", unit="L/ha"), id="a column"),
        pytest.param(LITRES[: LITRES.index("table = {")] + 'table = "rates.csv"\n', id="a file"),
    ],
)
def test_a_rate_by_volume_does_not_hold_for_granules(tmp_path: Path, capsys: Capture, rates: str) -> None:
    """Not even where the granules have a density: one line, nothing written."""
    (tmp_path / "rates.csv").write_text("zone,rate\nA,100 L/ha\nB,120 L/ha\nC,150 L/ha\n", encoding="utf-8")
    text = plan_of(tmp_path, products="", rates=rates)
    dense = SHARED.replace('name = "Amsul"', 'name = "Amsul"\ndensity = "0.9 kg/L"')
    (tmp_path / "products.toml").write_text(dense, encoding="utf-8")
    assert build_plan(tmp_path, text, capsys, "--no-pictures").code == 0
    found = build_plan(tmp_path, text, capsys, "--swap", "Solution=Amsul", "--force")
    assert found.code == 2
    (error,) = found.said["errors"]
    assert error["where"] == "--swap Solution=Amsul"
    assert error["problem"] == (
        "The plan wants Solution in L/ha, and Amsul is granular and metered in kg/ha: that rate can't be kept."
    )
    assert manifest(tmp_path / "plan-bundle")["changes"] == []


def test_new_rates_make_a_swap_between_forms_possible(tmp_path: Path, capsys: Capture) -> None:
    """What is set after the swap is of the new product; a rate of 0 needs no other unit."""
    found = build_plan(
        tmp_path,
        plan_of(tmp_path, products="", rates=LITRES),
        capsys,
        *("--swap", "Solution=Amsul", "--no-pictures"),
        *("--set", "rate[Amsul].table.A=90 kg/ha", "--set", "rate[Amsul].table.C=140 kg/ha"),
    )
    assert found.given() == {"A": 90, "B": 0, "C": 140}


def test_what_was_accepted_for_the_old_product_is_open_again(tmp_path: Path, capsys: Capture) -> None:
    """Someone answered for the old product alone; an acceptance without a product holds on."""
    accept = """
[[accept]]
finding = "limits-move-total"
product = "Granular"
why = "seen"
by = "A. Example"
date = 2027-03-01

[[accept]]
finding = "swap-nutrients"
why = "sulphur is wanted"
by = "A. Example"
date = 2027-03-01
"""
    text = plan_of(tmp_path) + accept
    found = build_plan(tmp_path, text, capsys, "--swap", "Granular=Amsul", "--no-pictures")
    assert [one["severity"] for one in found.named("swap-nutrients")] == ["note"]
    assert "limits-move-total" not in found.text


def test_an_overlays_rate_by_volume_does_not_hold_for_granules_either(tmp_path: Path, capsys: Capture) -> None:
    """Overlays follow the swap, and their rates are kept like those of zones."""
    overlay = '\n[[overlay]]\nwhere = "edge 10 m"\nproducts = ["Solution"]\nrate = "50 L/ha"\n'
    rates = LITRES.replace("L/ha", "kg/ha") + overlay
    text = plan_of(tmp_path, products="", rates=rates)
    assert build_plan(tmp_path, text, capsys, "--no-pictures").code == 0
    found = build_plan(tmp_path, text, capsys, "--swap", "Solution=Amsul", "--force")
    assert "The plan wants Solution in L/ha" in found.said["errors"][0]["problem"]
    words = ("--swap", "Solution=Amsul", "--set", "overlay[0].rate=50 kg/ha", "--force", "--no-pictures")
    assert build_plan(tmp_path, text, capsys, *words).code == 0
