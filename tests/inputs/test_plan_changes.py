"""A plan's values changed for one build: in force as if they stood in the plan, which stays as it is."""

from __future__ import annotations

from pathlib import Path

import pytest
from support_good_plan import GOOD, write_plan

from vrx.errors import VrxError
from vrx.inputs.plan_file import place_of, read_plan

SHARED = """\
units = "us"

[[product]]
name = "kieserite"
form = "granular"
use = "fertiliser"
min = "100 lb/ac"
max = "2000 lb/ac"
step = "50 lb/ac"
analysis = { Mg = "15 %", S = "20 %" }

[[product]]
name = "zinc chelate"
form = "liquid"
use = "fertiliser"
min = "1 qt/ac"
max = "8 qt/ac"
step = "1 qt/ac"
"""
WITH_SHARED = 'products = "products.toml"\n' + GOOD


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    return write_plan(tmp_path, WITH_SHARED, products=SHARED)


def refused(plan: Path, *, sets: tuple[str, ...] = (), swaps: tuple[str, ...] = ()) -> tuple[VrxError, ...]:
    with pytest.raises(VrxError) as caught:
        read_plan(plan, sets=sets, swaps=swaps)
    return caught.value.each


# --- values


def test_what_is_set_reads_as_if_it_stood_in_the_plan(tmp_path: Path, plan: Path) -> None:
    """The plan read with changes is the plan with these lines written into it, key by key."""
    written = (
        WITH_SHARED.replace('crop = "field pea"', 'crop = "lentil"')
        .replace('max = "2000 lb/ac"', 'max = "1800 lb/ac"')
        .replace('B = "900 lb/ac"', 'B = "1000 lb/ac"')
        .replace('span = ["-30 ft", "0 ft"]', 'span = ["-30 ft", "-5 ft"]')
    )
    (tmp_path / "other").mkdir()
    other = write_plan(tmp_path / "other", written, products=SHARED)
    before = plan.read_bytes()
    found = read_plan(
        plan,
        sets=(
            "field.crop=lentil",
            "product[gypsum].max=1800 lb/ac",
            "rate[gypsum].table.B=1000 lb/ac",
            "machine.drive[left].span=['-30 ft', '-5 ft']",
        ),
    )
    assert found.plan == read_plan(other).plan
    assert found.plan != read_plan(plan).plan
    assert plan.read_bytes() == before


def test_what_was_changed_is_told_with_what_the_plan_says(plan: Path) -> None:
    """In the order given, with the value before, or that there was none."""
    found = read_plan(plan, sets=("product[zinc].crops=['pea']", "field.crop=lentil"), swaps=("gypsum=kieserite",))
    assert [(one.option, one.text) for one in found.changes] == [
        ("--swap", "kieserite instead of gypsum"),
        ("--set", 'product[zinc].crops = ["pea"] (not in the plan)'),
        ("--set", 'field.crop = "lentil" (in the plan "field pea")'),
    ]


def test_a_shared_products_key_is_set_for_this_plan(plan: Path) -> None:
    """It overrides the shared file, which stays as it is, and counts in the plan's own units."""
    shared = plan.with_name("products.toml")
    before = shared.read_bytes()
    found = read_plan(plan, swaps=("zinc=zinc chelate",), sets=("product[zinc chelate].max=2 gal/ac",))
    changed = next(one for one in found.plan.product if one.name == "zinc chelate")
    assert str(changed.max) == "2 gal/ac"
    assert changed.highest == 8  # qt/ac: 4 quarts a gallon
    assert shared.read_bytes() == before


def test_what_chooses_shared_tables_is_set_before_they_are_merged_in(plan: Path) -> None:
    """Another shared file, or another product in a rate, brings in what it names."""
    plan.with_name("others.toml").write_text(SHARED.replace('"100 lb/ac"', '"200 lb/ac"'), encoding="utf-8")
    found = read_plan(plan, sets=("products=others.toml",), swaps=("gypsum=kieserite",))
    assert str(next(one.min for one in found.plan.product if one.name == "kieserite")) == "200 lb/ac"
    assert plan.with_name("others.toml") in found.sources


@pytest.mark.parametrize(
    ("said", "where", "problem"),
    [
        pytest.param("field.crop=5", "--set field.crop", "crop = 5 is not text.", id="another kind"),
        pytest.param("keep_out[0].set_back=20", "--set keep_out[0].set_back", "20 has no unit.", id="no unit"),
        pytest.param("product[zinc].mx=4 gal/ac", "--set product[zinc].mx", "'mx' is not a key here.", id="misspelt"),
        pytest.param("receiver.files=x", "--set receiver.files", 'files = "x" is not one of its', id="no choice"),
        pytest.param("zones.from=no.shp", "--set zones.from", "There is no file 'no.shp'.", id="no such file"),
        pytest.param("products=no.toml", "--set products", "There is no file 'no.toml'.", id="no shared file"),
        pytest.param("rate[zinc].rates=['x']", "--set rate[zinc].rates: [0]", "'x' does not start", id="in a list"),
        pytest.param("feld.crop=x", "--set feld.crop=x", "'feld' is not a key of a plan.", id="leads nowhere"),
    ],
)
def test_a_fault_in_what_was_set_names_the_option(plan: Path, said: str, where: str, problem: str) -> None:
    """The model's own words, at the option instead of a line."""
    found = refused(plan, sets=(said,))
    assert [(one.where, one.problem.startswith(problem)) for one in found[:1]] == [(where, True)], found


def test_a_fault_beside_what_was_set_names_line_and_option(plan: Path) -> None:
    """A step that no longer fits stands in the file; what was set beside it is named too."""
    (found,) = refused(plan, sets=("product[gypsum].max=550 lb/ac", "product[gypsum].min=510 lb/ac"))
    assert found.where.startswith("plan.toml: product[0].step, line ")
    assert "Look at --set product[gypsum].max, --set product[gypsum].min too." in found.remedy


def test_all_that_is_wrong_with_the_options_is_told_at_once(plan: Path) -> None:
    """Two wrong keys are two errors; a key that is set twice is one."""
    assert len(refused(plan, sets=("feld.crop=x", "product[x].min=1"))) == 2
    (twice,) = refused(plan, sets=("product[gypsum].max=1 lb/ac", "product[0].max=2 lb/ac"))
    assert "set twice" in twice.problem


def test_an_error_found_later_is_placed_at_the_option(plan: Path) -> None:
    """What a build says of a key of a changed plan is placed as its reader would."""
    found = read_plan(plan, sets=("rate[zinc].of=zn",), swaps=("gypsum=kieserite",))
    assert place_of(found, ("rate", 1, "of")) == "--set rate[zinc].of"
    line = WITH_SHARED.splitlines().index('name = "zinc"') + 1
    assert place_of(found, ("product", 0, "name")) == f"plan.toml: product[1].name, line {line}"
    assert place_of(found, ("product", 1, "min")).startswith("products.toml: product[0].min, line ")


# --- products


def test_a_swap_follows_through_the_plan(plan: Path) -> None:
    """Rate, keep-outs and drives are of the new product; the old one is no part of the pass, but is remembered."""
    found = read_plan(plan, swaps=("gypsum=kieserite",))
    assert [one.product for one in found.plan.rate] == ["kieserite", "zinc"]
    assert [one.products for one in found.plan.keep_out] == [("kieserite",)]
    assert [one.product for one in found.plan.machine.drive] == ["kieserite", "kieserite"]
    assert sorted(one.name for one in found.plan.product) == ["kieserite", "zinc"]
    assert [one.name for one in found.swapped_out] == ["gypsum"]
    assert found.plan.rate[0].table == read_plan(plan).plan.rate[0].table  # type: ignore[union-attr]


def test_a_shared_machine_carries_the_new_product(plan: Path) -> None:
    """Drives and tanks of a shared machine follow too, and its file stays as it is."""
    machine = """
units = "us"
[[machine]]
name = "cart"
width = "60 ft"
tank = { product = "zinc", size = "300 gal" }
[[machine.drive]]
name = "pump"
span = ["-30 ft", "30 ft"]
product = "zinc"
"""
    text = WITH_SHARED[: WITH_SHARED.index("[machine]")] + '[machine]\nname = "cart"\n'
    plan = write_plan(plan.parent, 'machines = "machines.toml"\n' + text, products=SHARED, machines=machine)
    found = read_plan(plan, swaps=("zinc=zinc chelate",)).plan.machine
    assert [one.product for one in found.drive] == ["zinc chelate"]
    assert [one.product for one in found.tank] == ["zinc chelate"]
    assert plan.with_name("machines.toml").read_text(encoding="utf-8") == machine


def test_two_products_may_take_each_others_place(plan: Path) -> None:
    """Swapped at the same time: the rate of one is then the other's."""
    text = WITH_SHARED.replace('"gypsum"', '"S-lime"').replace("liquid", "granular").replace("gal/ac", "lb/ac")
    write_plan(plan.parent, text.replace('density = "10.9 lb/gal"', ""), products=SHARED)
    found = read_plan(plan, swaps=("S-lime=zinc", "zinc=S-lime"))
    assert [one.product for one in found.plan.rate] == ["zinc", "S-lime"]
    assert [one.product for one in found.plan.machine.drive] == ["zinc", "zinc"]


@pytest.mark.parametrize(
    ("said", "problem", "remedy"),
    [
        pytest.param("gypsum", "not OLD=NEW", "Name two products", id="no new one"),
        pytest.param("gipsum=kieserite", "no [[rate]] for 'gipsum'", 'mean "gypsum"', id="no such old one"),
        pytest.param("gypsum=kieserit", "no product 'kieserit'", 'mean "kieserite"', id="no such new one"),
        pytest.param("gypsum=gypsum", "for itself", "another product", id="itself"),
        pytest.param("gypsum=zinc", "a [[rate]] of its own", "does not use", id="one that the plan uses"),
    ],
)
def test_a_swap_that_can_not_be_is_one_clear_line(plan: Path, said: str, problem: str, remedy: str) -> None:
    """It names the option, what is wrong, and the products that there are."""
    (found,) = refused(plan, swaps=(said,))
    assert found.where == f"--swap {said}"
    assert problem in found.problem
    assert remedy in found.remedy


def test_a_name_with_an_equals_sign_can_be_swapped(plan: Path) -> None:
    """Where the text can be parted in two ways, a product of the plan is what stands before."""
    write_plan(plan.parent, WITH_SHARED.replace('"gypsum"', '"N=0 lime"'), products=SHARED)
    assert read_plan(plan, swaps=("N=0 lime=kieserite",)).plan.rate[0].product == "kieserite"
