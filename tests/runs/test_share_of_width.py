"""A planter with two hybrids on halves, built whole: every paper says both areas, and its sums can be redone."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import re
from pathlib import Path
from typing import Any

import pypdf
import pytest
from support_fields import FIELD_HA, bench
from support_plans import Outcome, build_plan

from vrx.cli.main import main

HYBRIDS = "".join(
    f"""
[[product]]
name = "{name}"
form = "seed"
use = "seed"
min = "1000 seeds/ha"
max = "99000 seeds/ha"
step = "500 seeds/ha"
price = "250 EUR/unit(80000 seeds)"

[[rate]]
product = "{name}"
by = "table"
table = {{ A = "80000 seeds/ha", B = "70000 seeds/ha", C = "60000 seeds/ha" }}
"""
    for name in ("Early", "Late")
)
PLANTER = """
[machine]
name = "planter, 24 rows of 75 cm"
width = "18 m"
[[machine.drive]]
name = "left"
span = ["-9 m", "0 m"]
product = "Early"
group = "all"
[[machine.drive]]
name = "right"
span = ["0 m", "9 m"]
{right}
[[machine.drive]]
name = "spreader"
span = ["-9 m", "9 m"]
product = "Granular"
"""
# Zones A, B and C have 4.5, 3 and 3 ha.
SEEDS = (4.5 * 80_000 + 3 * 70_000 + 3 * 60_000) / 2
HALF = f"{FIELD_HA / 2:.3f} ha"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """Build once for all that is looked at."""
    folder = tmp_path_factory.mktemp("planter")
    plan = folder / "plan.toml"
    plan.write_text(bench(folder, rest=HYBRIDS + PLANTER.format(right='product = "Late"')), encoding="utf-8")
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        code = main(["build", str(plan), "--json", "--svg"])
    return Outcome(code=code, said=json.loads(said.getvalue()), stderr="")


def text_of_report(made: Outcome) -> str:
    page = made.file("html").read_text(encoding="utf-8")
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def test_amounts_are_of_half_the_width(made: Outcome) -> None:
    """Each hybrid takes half of what the whole field would, and the spreader beside them all."""
    spreader, early, late = made.said["products"]
    assert early["total_given"] == late["total_given"] == pytest.approx(SEEDS, rel=1e-6)
    assert (early["share_of_width"], spreader["share_of_width"]) == (0.5, 1)
    assert early["geodesic_area_m2"] == pytest.approx(FIELD_HA * 1e4, rel=1e-6)
    assert early["product_area_m2"] == pytest.approx(FIELD_HA * 5e3, rel=1e-6)
    assert spreader["product_area_m2"] == spreader["geodesic_area_m2"]
    for zone in early["zones"]:
        assert zone["amount_given"] == pytest.approx(zone["given"] * zone["geodesic_area_m2"] / 2e4, rel=1e-12)


def test_the_report_says_both_areas_wherever_it_says_an_amount(made: Outcome) -> None:
    """Summary, areas, map, ledger and cost by rate; and the zone by hand multiplies out."""
    text = text_of_report(made)
    note = (
        f"50 % of the width carries it: it gets {HALF} of the 10.500 ha of the field, and its amounts go by the {HALF}."
    )
    assert text.count(note) == 2 * 3  # map, ledger, cost by rate; for each hybrid
    assert f"10.500 ha of the field, {HALF} of this product" in text
    assert f"Of that, what gets Early: 50 % of the width {HALF}" in text
    found = re.search(
        r"Amount: ([0-9.]+) seeds/ha x ([0-9.]+) ha of this product \(50 % of ([0-9.]+) ha\) = ([0-9,]+)", text
    )
    assert found is not None
    rate, own, field, amount = (float(one.replace(",", "")) for one in found.groups())
    assert own == pytest.approx(field / 2, abs=0.0005)
    assert rate * own == pytest.approx(amount, rel=1e-4)
    assert "of the field, of which 50 % get it" in made.file("html").read_text(encoding="utf-8")


def test_card_and_map_say_both_areas(made: Outcome) -> None:
    """The cab card beside what to have on hand, and the map below its legend."""
    pages = pypdf.PdfReader(made.file("pdf")).pages
    card = re.sub(r"\s+", "", "".join(page.extract_text() for page in pages))
    assert re.sub(r"\s+", "", f"{HALF} of this product") in card
    svgs = [Path(one["path"]).read_text(encoding="utf-8") for one in made.said["files"] if one["format"] == "svg"]
    words = [" ".join(re.sub(r"<[^>]+>", " ", one).split()) for one in svgs]
    assert sum("of the width carries it" in one for one in words) == 2
    assert len(words) == 3


def test_the_csv_has_a_line_for_it(made: Outcome) -> None:
    """The line below the total holds the ground of the product."""
    lines = list(csv.DictReader(io.StringIO(made.file("csv").read_text(encoding="utf-8"))))
    mine = [one for one in lines if one["line"] == "share of the width"]
    assert [(one["product"], float(one["geodesic_ha"])) for one in mine] == [
        ("Early", pytest.approx(FIELD_HA / 2, rel=1e-6)), ("Late", pytest.approx(FIELD_HA / 2, rel=1e-6)),
    ]  # fmt: skip


def test_the_manifest_says_how_drives_are_grouped(made: Outcome) -> None:
    """Whoever compares another map or machine with it finds the drives, their products, groups and spans."""
    path = Path(made.said["bundle"]) / "manifest.json"
    said: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))["machine"]
    assert said == {
        "name": "planter, 24 rows of 75 cm",
        "width_m": 18,
        "drives": [
            {"name": "left", "products": ["Early"], "group": "all", "span_m": [-9, 0]},
            {"name": "right", "products": ["Late"], "group": "", "span_m": [0, 9]},
            {"name": "spreader", "products": ["Granular"], "group": "", "span_m": [-9, 9]},
        ],
    }


def test_a_drive_that_changes_between_two(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It counts whole for both, and every paper names both."""
    text = bench(tmp_path, rest=HYBRIDS + PLANTER.format(right='one_of = ["Early", "Late"]'))
    out = build_plan(tmp_path, text, capsys, pictures=True)
    _, early, late = out.said["products"]
    assert (early["share_of_width"], late["share_of_width"]) == (1, 0.5)
    assert early["total_given"] == pytest.approx(2 * SEEDS, rel=1e-6)
    assert "right: Early or Late, from the centre line to 9 m right" in text_of_report(out)


def test_an_overlay_goes_by_the_share(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Half the rate on all ground takes half of what half the width wants off the wanted total."""
    overlay = '[[overlay]]\nwhere = "edge 500 m"\nfactor = 0.5\nproducts = ["Early"]\nwhy = "replant"\n'
    text = bench(tmp_path, rest=HYBRIDS + PLANTER.format(right='product = "Late"') + overlay)
    out = build_plan(tmp_path, text, capsys)
    early = next(one for one in out.said["products"] if one["name"] == "Early")
    (effect,) = early["overlays"]
    assert effect["geodesic_area_m2"] == pytest.approx(FIELD_HA * 1e4, rel=1e-6)
    assert effect["amount"] == pytest.approx(-SEEDS / 2, rel=1e-6)
    assert early["total_wanted"] == pytest.approx(SEEDS / 2, rel=1e-6)


def test_a_swap_keeps_the_share(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is swapped in stands on the same drives, one of several too, and brings half."""
    (tmp_path / "shed.toml").write_text(
        '[[product]]\nname = "Other"\nform = "seed"\nuse = "seed"\nmin = "1000 seeds/ha"\nmax = "99000 seeds/ha"\n'
        'step = "500 seeds/ha"\nprice = "1 EUR/kg"\nseeds_per = "3000 /kg"\n',
        encoding="utf-8",
    )
    text = 'products = "shed.toml"\n' + bench(
        tmp_path, rest=HYBRIDS + PLANTER.format(right='one_of = ["Early", "Late"]')
    )
    out = build_plan(tmp_path, text, capsys, "--swap", "Late=Other")
    assert out.code in (0, 1), out.text
    other = next(one for one in out.said["products"] if one["name"] == "Other")
    assert (other["share_of_width"], other["total_given"]) == (0.5, pytest.approx(SEEDS, rel=1e-6))


def test_a_shared_hybrid_of_another_pass_takes_its_part(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A drive with a shared product that has no rate here meters that product's form: the other hybrid has half."""
    (tmp_path / "shed.toml").write_text(
        '[[product]]\nname = "Late"\nform = "seed"\nuse = "seed"\nmin = "1000 seeds/ha"\nmax = "99000 seeds/ha"\n'
        'step = "500 seeds/ha"\n',
        encoding="utf-8",
    )
    early = HYBRIDS[: HYBRIDS.rindex("\n[[product]]")]
    text = 'products = "shed.toml"\n' + bench(tmp_path, rest=early + PLANTER.format(right='product = "Late"'))
    out = build_plan(tmp_path, text, capsys)
    assert out.code in (0, 1), out.text
    (found,) = [one for one in out.said["products"] if one["name"] == "Early"]
    assert (found["share_of_width"], found["total_given"]) == (0.5, pytest.approx(SEEDS, rel=1e-6))
