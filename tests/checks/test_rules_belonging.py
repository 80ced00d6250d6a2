"""Rules about belonging: product, crop, season, drives."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from support_checks import library, named, plan_for, strips, the, unseen
from support_fields import SPREADER, keep_out, write_box

from vrx.checks.rules import (
    default_rate_outside_limits,
    drives_grouped_otherwise,
    product_changed,
)
from vrx.checks.rules.drives_grouped_otherwise import grouping_of
from vrx.errors import InputError
from vrx.model.checked_map import BuiltAs, CheckedMap
from vrx.runs.check import check, judge, look_at, read_against

OTHER = SPREADER.replace('"Granular"', '"Granular two"')
RATES = (85, 115, 140)


def drives(*tables: str, more: str = "") -> str:
    """A machine of drives, each said as keys of its table."""
    return f"[machine]\n{more}\n" + "".join(f"[[machine.drive]]\n{one}\n" for one in tables)


def drive(name: str, left: float, right: float, product: str = '"Granular"', more: str = "") -> str:
    key = "one_of" if product.startswith("[") else "product"
    return f'name = "{name}"\nspan = ["{left} m", "{right} m"]\n{key} = {product}\n{more}'


LEFT, RIGHT = drive("left", -9, 0), drive("right", 0, 9)


# ---- the product


def test_a_product_that_the_plan_does_not_have(tmp_path: Path) -> None:
    """The nearest name is offered, and all of them are listed."""
    plan = plan_for(tmp_path, products=SPREADER + OTHER, rates=("Granular", "Granular two"))
    one = the(check([strips(tmp_path, RATES)], plan=plan, product="granular to"), "product-unknown")
    assert 'is for "granular to", and plan.toml has no product of that name: it has "Granular", "Granular two".' in (
        one.message
    )
    assert 'Did you mean "Granular two"?' in one.remedy


def test_a_product_whose_name_holds_a_hash(tmp_path: Path) -> None:
    """It is found in the plan and in a file of products, whose own name may hold one too."""
    products = SPREADER.replace('"Granular"', '"Mix #2"')
    path = strips(tmp_path, RATES)
    found = check([path], plan=plan_for(tmp_path, products=products, rates=("Mix #2",)), product="Mix #2")
    assert found.on.the_product.name == "Mix #2"
    (tmp_path / "farm #1").mkdir()
    found = check([path], product=library(tmp_path / "farm #1", products, name="Mix #2"))
    assert found.on.the_product.name == "Mix #2"
    with pytest.raises(InputError, match=r"There is no file 'none\.toml'"):
        check([path], product=f"{tmp_path / 'none.toml'}#Mix #2")


def test_several_products_and_nothing_says_which(tmp_path: Path) -> None:
    """A choice is asked for; with one product, or none known, there is nothing to ask."""
    path = strips(tmp_path, RATES)
    several = plan_for(tmp_path, products=SPREADER + OTHER, rates=("Granular", "Granular two"))
    one = the(check([path], plan=several), "product-unknown")
    assert one.severity == "stop"
    assert "has 2 products" in one.message
    assert not named(check([path], plan=several, product="Granular two"), "product-unknown")
    assert unseen(check([path], plan=several), "rate-above-max") == [
        "It is not known which product the map is for: name it with --product."
    ]
    assert not named(check([path], plan=plan_for(tmp_path)), "product-unknown")
    assert not named(check([path]), "product-unknown")


def test_a_map_that_names_its_product(tmp_path: Path) -> None:
    """A column that says the product is taken at its word, be it known or not."""
    path = strips(tmp_path, RATES, more={"product": ("Lime",) * 3})
    one = the(check([path], plan=plan_for(tmp_path), column="rate"), "product-unknown")
    assert '"Lime"' in one.message
    assert one.product == "Lime"


@pytest.mark.parametrize(
    ("says", "severity"),
    [
        pytest.param("GRANULAR  TWO", "stop", id="another product of the plan"),
        pytest.param("Lime", "caution", id="a product that nobody knows"),
        pytest.param("granular", None, id="this product, spelled its own way"),
        pytest.param("Gran", None, id="a part of this product's name"),
    ],
)
def test_a_map_that_names_another_product_than_asked_for(tmp_path: Path, says: str, severity: str | None) -> None:
    """Rates that fit two products say nothing: what the map says of its product is held against what was asked."""
    plan = plan_for(tmp_path, products=SPREADER + OTHER, rates=("Granular", "Granular two"))
    path = strips(tmp_path, RATES, more={"product": (says,) * 3})
    found = named(check([path], plan=plan, product="Granular", column="rate"), "product-unknown")
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert one.message == f'The map says that the map is for "{says}", and it was asked for "Granular".'


def test_a_map_that_was_built_for_another_product(tmp_path: Path) -> None:
    """The bundle knows for which product it built a map, though both are spread at these rates."""
    plan = plan_for(tmp_path, products=SPREADER + OTHER, rates=("Granular", "Granular two"))
    on = look_at([strips(tmp_path, RATES)], read_against(plan=plan, product="Granular"))
    for built_for, count in (("Granular", 0), ("Granular two", 1)):
        built = BuiltAs(bundle="plan-bundle", by="checksum", map_name="map", products={"rate": built_for})
        found = named(judge(replace(on, built_as=built)), "product-unknown")
        assert [one.severity for one in found] == ["stop"] * count


@pytest.mark.parametrize(
    ("unit", "words"),
    [
        pytest.param("us_gal/ac", "The map is in us_gal/ac, and Granular is a granular product, metered by mass.",
                     id="a volume of a dry product"),
        pytest.param("seeds/ha", "The map is in seeds/ha", id="seeds of a fertiliser"),
        pytest.param("lb N/ac", "", id="a nutrient"),
        pytest.param("lb/ac", "", id="another mass"),
    ],
)  # fmt: skip
def test_units_that_a_form_is_not_metered_in(tmp_path: Path, unit: str, words: str) -> None:
    """Whatever converts is fine; what can't be metered stops."""
    product = library(tmp_path, SPREADER + 'analysis = { N = "27 %" }\n')
    found = named(check([strips(tmp_path, RATES)], product=product, unit=unit), "product-form-mismatch")
    assert [(one.severity, words in one.message) for one in found] == [("stop", True)] * bool(words)


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        pytest.param('form = "liquid"', "drive left, which carries it, meters a liquid one", id="form"),
        pytest.param('flow = "2 to 90 seeds/s"', "drive left, which carries it, gives a count: 2 to 90 seeds/s",
                     id="flow"),
        pytest.param('flow = "2 to 90 kg/min"', "", id="flow that fits"),
    ],
)  # fmt: skip
def test_a_drive_of_another_form(tmp_path: Path, keys: str, words: str) -> None:
    """A drive that meters something else does not carry this product."""
    plan = plan_for(tmp_path, rest=drives(drive("left", -9, 0, more=keys), RIGHT))
    found = named(check([strips(tmp_path, RATES)], plan=plan), "product-form-mismatch")
    assert [words in one.message for one in found] == [True] * bool(words)


def from_bundle(folder: Path, settings: dict[str, str], **keys: Any) -> CheckedMap:
    """A map of the invented field as one that a bundle built, with what its card told to set."""
    on = look_at([strips(folder, RATES)], read_against(plan=plan_for(folder)))
    built = BuiltAs(bundle="plan-bundle", by="checksum", map_name="map", settings={"Granular": settings}, **keys)
    return replace(on, built_as=built)


def test_settings_that_changed_since_the_build(tmp_path: Path) -> None:
    """What was and what is, label by label; what is as it was is not told."""
    on = from_bundle(tmp_path, {})
    then = {**on.settings, "Maximum": "180 kg/ha"}
    (seen,) = product_changed.look(from_bundle(tmp_path, then))
    assert seen.message == "Granular was changed since plan-bundle was built. Maximum: 180 kg/ha then, 200 kg/ha now."
    assert list(product_changed.look(from_bundle(tmp_path, dict(on.settings)))) == []


@pytest.mark.parametrize(
    ("settings", "severity", "words"),
    [
        pytest.param({"Default rate, where the map says nothing": "210 kg/ha"}, "stop", "the default rate of 210 kg/ha",
                     id="default"),
        pytest.param({"Rates to pick by hand": "40, 57.5 kg/ha"}, "caution", "a rate to pick by hand of 57.5 kg/ha",
                     id="by hand"),
        pytest.param({"Default rate, where the map says nothing": "0 kg/ha", "Rates to pick by hand": "40 kg/ha"}, "",
                     "", id="allowed"),
    ],
)  # fmt: skip
def test_rates_to_set_that_are_not_allowed(tmp_path: Path, settings: dict[str, str], severity: str, words: str) -> None:
    """The card's rates are held against the product as it is now."""
    seen = list(default_rate_outside_limits.look(from_bundle(tmp_path, settings)))
    assert [(one.severity, words in one.message) for one in seen] == [(severity, True)] * bool(words)
    assert all("0, or 20 to 200 kg/ha in steps of 5" in one.message for one in seen)


def test_both_rules_of_the_card_run(tmp_path: Path) -> None:
    """Through the whole check they look only where a bundle is known."""
    found = check([strips(tmp_path, RATES)], plan=plan_for(tmp_path))
    assert "bundle" in unseen(found, "product-changed")[0]
    assert "bundle" in unseen(found, "default-rate-outside-limits")[0]


# ---- crop and season


def test_crops(tmp_path: Path) -> None:
    """The product's crops and the map's crop are each held against the field's; spelling in capitals is no matter."""
    wheat = SPREADER + 'crops = ["wheat", "barley"]\n'
    plan = plan_for(tmp_path, products=wheat, field='crop = "Canola"')
    path = strips(tmp_path, RATES, more={"crop": ("wheat",) * 3})
    messages = [one.message for one in named(check([path], plan=plan, column="rate"), "crop-mismatch")]
    assert messages == [
        "Granular is for wheat, barley, and the field grows Canola.",
        "The map says that the map is for wheat, and the field grows Canola.",
    ]
    right = plan_for(tmp_path, products=wheat, field='crop = "Wheat"')
    found = check([path], plan=right, column="rate")
    assert not named(found, "crop-mismatch")
    assert not unseen(found, "crop-mismatch")


def test_a_map_that_does_not_say_its_crop(tmp_path: Path) -> None:
    """Silence is told as such."""
    plan = plan_for(tmp_path, field='crop = "wheat"')
    assert unseen(check([strips(tmp_path, RATES)], plan=plan), "crop-mismatch") == [
        "The file does not say its crop: ask whoever made it."
    ]


@pytest.mark.parametrize(
    ("name", "says", "severity", "words"),
    [
        pytest.param("map", "2026", "stop", "for season 2026, and the plan is for 2027", id="the map says another"),
        pytest.param("map_2026", "2027", "", "", id="what the map says is better than its name"),
        pytest.param(
            "north_2026_rx", "", "caution", "has the year 2026; the plan is for 2027", id="a year in its name"
        ),
        pytest.param("north_2026_2027", "", "", "", id="two years, one of them right"),
        pytest.param("map20261", "", "", "", id="no year"),
    ],
)
def test_seasons(tmp_path: Path, name: str, says: str, severity: str, words: str) -> None:
    """A map of last season fits the boundary and is wrong all the same."""
    more = {"season": (says,) * 3} if says else {}
    path = strips(tmp_path, RATES, name=name, more=more)
    found = check([path], plan=plan_for(tmp_path), column="rate")
    seen = named(found, "season-mismatch")
    assert [(one.severity, words in one.message) for one in seen] == [(severity, True)] * bool(words)
    assert bool(unseen(found, "season-mismatch")) is (name == "map20261")


# ---- drives


def test_drives_and_products_that_do_not_meet(tmp_path: Path) -> None:
    """A drive without a rate in this pass, and a product that no drive carries."""
    (tmp_path / "shared.toml").write_text(OTHER)
    plan = plan_for(tmp_path, rest=drives(drive("cart", -9, 9, '"Granular two"')))
    plan.write_text(f'products = "shared.toml"\n{plan.read_text()}')
    found = check([strips(tmp_path, RATES)], plan=plan)
    assert "Drive cart carries Granular two, and the plan has no rate" in the(found, "drive-without-product").message
    assert (
        "No drive of the machine carries Granular: its drives are cart (Granular two)."
        in the(found, "product-without-drive").message
    )
    sound = check([strips(tmp_path, RATES)], plan=plan_for(tmp_path, rest=drives(LEFT, RIGHT)))
    assert not named(sound, "drive-without-product")
    assert not named(sound, "product-without-drive")


TWO = drives(drive("meter", -9, 9, '["Granular", "Granular two"]'))


@pytest.mark.parametrize(
    ("one", "other", "words"),
    [
        pytest.param((85, 0, 90), (0, 100, 0), [], id="exactly one everywhere"),
        pytest.param((85, 50, 90), (0, 100, 0), ["several are above 0 in B (record 2), on 3.5000 ha"], id="two in B"),
        pytest.param((85, 0, 0), (0, 100, 0), ["none is above 0 in C (record 3), on 3.5000 ha"], id="none in C"),
    ],
)
def test_a_drive_that_gives_one_product_at_a_place(
    tmp_path: Path, one: tuple[int, ...], other: tuple[int, ...], words: list[str]
) -> None:
    """Columns named like the products are compared record by record."""
    plan = plan_for(tmp_path, products=SPREADER + OTHER, rates=("Granular", "Granular two"), rest=TWO)
    path = strips(tmp_path, one, column="GRANULAR", more={"granular_two": other})
    found = named(check([path], plan=plan, product="Granular", column="GRANULAR"), "not-one-of")
    assert [text in seen.message for text, seen in zip(words, found, strict=True)] == [True] * len(words)


def test_keep_outs_need_no_product(tmp_path: Path) -> None:
    """Where nothing may go, that neither product goes there is right."""
    write_box(tmp_path / "pond.geojson", 70.0, 0.0, 210.0, 250.0)
    products, rest = SPREADER + OTHER, keep_out("pond.geojson") + TWO
    plan = plan_for(tmp_path, products=products, rates=("Granular", "Granular two"), rest=rest)
    path = strips(tmp_path, (85, 0, 0), column="GRANULAR", more={"granular_two": (0, 100, 0)})
    assert not named(check([path], plan=plan, product="Granular", column="GRANULAR"), "not-one-of")


def test_keep_outs_that_do_not_answer_for_a_strip_without_product(tmp_path: Path) -> None:
    """One that binds a product alone leaves the ground to the other; two over the same half cover that half."""
    write_box(tmp_path / "pond.geojson", 70.0, 0.0, 210.0, 250.0)
    write_box(tmp_path / "half.geojson", 70.0, 0.0, 150.0, 250.0)
    products = SPREADER + OTHER
    path = strips(tmp_path, (85, 0, 0), column="GRANULAR", more={"granular_two": (0, 100, 0)})
    for areas in (keep_out("pond.geojson", products='["Granular"]'), keep_out("half.geojson") * 2):
        plan = plan_for(tmp_path, products=products, rates=("Granular", "Granular two"), rest=areas + TWO)
        one = the(check([path], plan=plan, product="Granular", column="GRANULAR"), "not-one-of")
        assert "none is above 0 in C (record 3)" in one.message


def test_one_map_of_two_products(tmp_path: Path) -> None:
    """A map of one product alone can't tell, and says so."""
    plan = plan_for(tmp_path, products=SPREADER + OTHER, rates=("Granular", "Granular two"), rest=TWO)
    (why,) = unseen(check([strips(tmp_path, RATES)], plan=plan, product="Granular"), "not-one-of")
    assert "vrx ready" in why


@pytest.mark.parametrize(
    ("groups", "words"),
    [
        pytest.param("left, right, cart", "", id="as in the plan"),
        pytest.param("left+right, cart", "Drives run together on the machine: left+right, cart. The plan has: left, "
                     "right, cart.", id="together"),
        pytest.param("left+right", "left+right, cart", id="a drive that is not named runs by itself"),
        pytest.param("left+rigt", "The plan has no drive rigt: its drives are left, right, cart.", id="a slip"),
    ],
)  # fmt: skip
def test_drives_that_run_together(tmp_path: Path, groups: str, words: str) -> None:
    """What the operator says of the machine is held against the plan."""
    plan = plan_for(tmp_path, rest=drives(LEFT, RIGHT, drive("cart", -9, 9)))
    found = named(check([strips(tmp_path, RATES)], plan=plan, groups=groups), "drives-grouped-otherwise")
    assert [words in one.message for one in found] == [True] * bool(words)


def test_drives_as_the_bundle_had_them(tmp_path: Path) -> None:
    """A map that was built for other groups is told, and where nobody says them that is told too."""
    rest = drives(drive("left", -9, 0, more='group = "all"'), drive("right", 0, 9, more='group = "all"'))
    on = look_at([strips(tmp_path, RATES)], read_against(plan=plan_for(tmp_path, rest=rest)))
    apart = frozenset({frozenset({"left"}), frozenset({"right"})})
    built = BuiltAs(bundle="old-bundle", by="checksum", map_name="map", grouping=apart)
    (seen,) = drives_grouped_otherwise.look(replace(on, built_as=built))
    assert "when old-bundle was built: left, right. The plan has: left+right." in seen.message
    same = replace(built, grouping=grouping_of(on.the_plan.machine))
    assert list(drives_grouped_otherwise.look(replace(on, built_as=same))) == []
    (why,) = drives_grouped_otherwise.look(on)
    assert "--groups" in why.why


@pytest.mark.parametrize(
    ("widths", "heading", "area", "share"),
    [
        pytest.param((200, 12, 208), '"0 deg"', "0.3000 ha (0.741 ac)", "2.86 %", id="12 m along the heading"),
        pytest.param((200, 12, 208), '"90 deg"', "", "", id="and the same strip across it"),
        pytest.param((200, 12, 208), "", "0.3000 ha (0.741 ac)", "2.86 %", id="no heading: its smaller width"),
        pytest.param((200, 19, 201), '"0 deg"', "", "", id="wider than the drives"),
        pytest.param((206, 8, 206), '"0 deg"', "", "", id="1.9 % of the ground"),
    ],
)
def test_groups_wider_than_parts(
    tmp_path: Path, widths: tuple[float, ...], heading: str, area: str, share: str
) -> None:
    """Drives of 18 m at one rate, and a strip of 250 m: its ground is known by construction."""
    both = drives(drive("left", -9, 0, more='group = "all"'), drive("right", 0, 9, more='group = "all"'))
    plan = plan_for(tmp_path, rest=both, field=f"heading = {heading}" if heading else "")
    found = named(check([strips(tmp_path, RATES, widths=widths)], plan=plan), "group-too-wide")
    assert [area in one.message and share in one.message for one in found] == [True] * bool(area)
    assert all("18.00 m" in one.message and "B (record 2)" in one.message for one in found)
