"""The content of a report: the ledger's numbers, in words that people understand, and shapes to draw."""

from __future__ import annotations

import json
import re
from math import fsum

import numpy as np
import pytest
import shapely
from hypothesis import given as drawn_by
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from support_content import content_of, sample_content
from support_products import granular, product, seed
from support_zone_maps import build_of, plan_of, prescription_of, zone_map

from vrx.errors import InputError
from vrx.model.content import Content, ProductContent
from vrx.reports.content_json import content_json, read_content

SAMPLES = ("quail_bench", "bergwind", "przy_torze")


def number(text: str) -> float:
    return float(text.replace(",", "").split()[0])


def test_the_content_of_a_field_that_can_be_done_in_the_head() -> None:
    """Three hectares at 60, 90 and 240 kg/ha, the last lowered to 200: rows, classes and totals."""
    found = content_of(zone_map("A B C"), (granular(), {"A": 60, "B": 90, "C": 240}))
    (one,) = found.products
    assert (found.title, found.area_unit, found.paper, found.stopped) == ("Vlei", "ha", "a4", False)
    assert [(row.zone, row.wanted, row.limited, row.given, row.true_area, row.amount) for row in one.rows] == [
        ("A", "60", "60", "60", "1.000", "60.0"),
        ("B", "90", "90", "90", "1.000", "90.0"),
        ("C", "240", "200", "200", "1.000", "200.0"),
    ]
    assert [row.why for row in one.rows] == ["", "", "above the maximum: lowered to 200 kg/ha"]
    assert [(each.rate, each.area, each.share, each.amount) for each in one.classes] == [
        ("60", "1.000", "33.3 %", "60.0"),
        ("90", "1.000", "33.3 %", "90.0"),
        ("200", "1.000", "33.3 %", "200.0"),
    ]
    assert [each.shade for each in one.classes] == [0, 0.5, 1]
    assert one.total == "350.0 kg"
    assert [line.true for line in found.areas] == ["3.000 ha", "3.000 ha"]


def test_a_us_plan_counts_in_acres_and_prints_on_letter() -> None:
    """A hectare is 2.471 acres of 4046.8564224 m2."""
    found = content_of(zone_map("A"), (product(), {"A": 15}), units="us")
    assert (found.area_unit, found.paper) == ("ac", "letter")
    assert found.areas[0].true == "2.471 ac"


@pytest.mark.parametrize("name", SAMPLES)
def test_parts_add_up_to_totals(name: str) -> None:
    """Rows and rate classes of every product come to its area and amount, within half of each last digit."""
    for one in sample_content(name).products:
        for lines in (one.rows, one.classes):
            areas = [line.true_area if hasattr(line, "true_area") else line.area for line in lines]
            known = [number(text) for text in areas if not text.startswith("<")]
            assert fsum(known) == pytest.approx(number(one.true_area), abs=0.0006 * (len(lines) + 1))
            digit = 10.0 ** -len(one.total.split()[0].partition(".")[2])
            amounts = [number(line.amount) for line in lines]
            assert fsum(amounts) == pytest.approx(number(one.total), abs=0.51 * digit * (len(lines) + 1))


@pytest.mark.parametrize("name", SAMPLES)
def test_patches_cover_the_treated_ground(name: str) -> None:
    """What is drawn is the ground of the rows, as near as drawing needs: a thousandth of the field's width."""
    found = sample_content(name)
    boundary = shapely.from_wkt(found.boundary)
    for one in found.products:
        shapes = shapely.from_wkt([patch.shape for patch in one.patches])
        assert shapely.is_valid(shapes).all()
        kept_out = shapely.union_all(shapely.from_wkt([found.keep_outs[at].shape for at in one.keep_outs]))
        missed = shapely.area(shapely.difference(boundary, shapely.union_all([*shapes, kept_out])))
        assert missed < boundary.length * 0.7
        unit = 4046.8564224 if found.area_unit == "ac" else 10_000.0
        for row in {patch.row for patch in one.patches}:
            mine = shapes[[patch.row == row for patch in one.patches]]
            if not one.rows[row].true_area.startswith("<"):
                area = shapely.area(mine).sum() / unit
                allowed = shapely.length(mine).sum() * 0.3 / unit + 0.001
                assert area == pytest.approx(number(one.rows[row].true_area), abs=allowed)


def test_a_patch_is_ground_in_one_piece_of_one_row() -> None:
    """Two fields of A apart are two patches of one row; a keep-out is none."""
    found = content_of(zone_map("A B A!0 A", keep_outs=[()]), (granular(), {"A": 60, "B": 90}))
    (one,) = found.products
    assert [patch.row for patch in one.patches] == [0, 0, 1]
    assert [shapely.from_wkt(patch.shape).area for patch in one.patches] == [10_000] * 3
    assert one.keep_outs == (0,)
    assert found.keep_outs[0].area == "1.000 ha"


def test_many_rates_fall_into_spans_that_the_machine_knows() -> None:
    """Sixteen rates from 30 to 105 by steps of 5 make eight spans of two."""
    rates = {f"Z{at:02}": 30.0 + 5 * at for at in range(16)}
    (one,) = content_of(zone_map(" ".join(rates)), (granular(), rates)).products
    assert [each.rate for each in one.classes] == [f"{30 + 10 * at} to {35 + 10 * at}" for at in range(8)]
    assert [row.rate_class for row in one.rows] == [at // 2 for at in range(16)]
    assert [each.area for each in one.classes] == ["2.000"] * 8


@pytest.mark.parametrize("count", [12, 13])
def test_up_to_twelve_rates_are_listed_each(count: int) -> None:
    """The thirteenth is one too many to tell from its neighbours."""
    rates = {f"Z{at:02}": 30.0 + 5 * at for at in range(count)}
    (one,) = content_of(zone_map(" ".join(rates)), (granular(), rates)).products
    assert any(" to " in each.rate for each in one.classes) is (count > 12)


def test_off_is_a_class_of_its_own() -> None:
    """Ground at 0 has no shade: it is drawn as off, and comes first."""
    (one,) = content_of(zone_map("A B"), (granular(), {"A": 0, "B": 60})).products
    assert [(each.rate, each.shade) for each in one.classes] == [("0", -1), ("60", 0.5)]


@pytest.mark.parametrize("name", SAMPLES)
def test_findings_are_numbered_and_have_their_place_in_the_field(name: str) -> None:
    """From 1, each with a plain title; its number stands on its own ground."""
    found = sample_content(name)
    assert [one.number for one in found.findings] == list(range(1, len(found.findings) + 1))
    for one in found.findings:
        assert one.title
        assert (one.place is None) is (one.shape == "")
        if one.place is not None:
            assert shapely.from_wkt(one.shape).distance(shapely.Point(one.place)) < 1


def test_the_two_areas_are_explained_with_their_difference() -> None:
    """UTM zone 34 at 21.4 E: the scale at the field is given, and what it does to areas. Source of the scale: the
    published central scale of UTM, 0.9996, and its growth by half the square of the distance over the radius."""
    notes = " ".join(content_of(zone_map("A"), (granular(), {"A": 60})).area_notes)
    scale = float(re.search(r"draws 1 m of ground (\S+) m long", notes)[1])
    east = np.radians(21.4 - 21.0) * 6_378_137 * np.cos(np.radians(31.2))
    assert scale == pytest.approx(0.9996 * (1 + east**2 / (2 * 6_378_137**2)), abs=1e-5)
    assert "WGS 84 / UTM zone 34S (EPSG:32734)" in notes
    assert "1.000 ha true, 0.999 ha on the sheet, -0.001 ha" in notes


def test_web_mercator_is_named_as_what_it_is() -> None:
    """Its areas are no areas: a field at 46 N comes out more than twice as large."""
    from dataclasses import replace

    drawn = zone_map("A")
    made = plan_of(granular(), grid_crs="EPSG:3857")
    drawn = replace(drawn, ground=replace(drawn.ground, grid_crs="EPSG:3857"))
    notes = " ".join(build_of(made, prescription_of(drawn, made, {"A": 60})).content.area_notes)
    assert "made for maps on screens" in notes


@pytest.mark.parametrize(
    ("name", "zone", "value", "points", "wanted"),
    [("quail_bench", "Hvs", 19.5, ((10, 60), (26, 180)), 131.25)],
)
def test_one_zone_is_worked_through_so_that_a_person_can_do_it(
    name: str, zone: str, value: float, points: tuple[tuple[float, float], ...], wanted: float
) -> None:
    """The sum in the text, done by hand, gives the rate in the text."""
    potash = sample_content(name).products[1]
    (low, at_low), (high, at_high) = points
    steps = " ".join(potash.example)
    assert f"Zone {zone}: cec_meq {value}" in steps
    (sum_text,) = re.findall(r"\): (\d.*\))\.", steps)
    assert eval(sum_text.replace("x", "*")) == pytest.approx(wanted)
    assert at_low + (value - low) / (high - low) * (at_high - at_low) == wanted
    assert f"Wanted: {wanted} lb/ac." in steps
    amount = re.search(r"Amount: (\S+) lb/ac x (\S+) ac = (\S+) lb", steps)
    assert amount
    assert number(amount[1]) * number(amount[2]) == pytest.approx(number(amount[3]), abs=0.05 + 0.0005 * 130)


def test_settings_come_in_the_order_in_which_they_are_set() -> None:
    """Unit first, then the limits, then what holds where the map has no say."""
    (one,) = content_of(
        zone_map("A"), (granular(default="60 kg/ha", hand_rates=["60 kg/ha", "90 kg/ha"]), {"A": 60})
    ).products
    assert [(fact.label.split(",")[0], fact.value) for fact in one.settings] == [
        ("Unit", "kg/ha"), ("Minimum", "30 kg/ha"), ("Maximum", "200 kg/ha"), ("Step", "5 kg/ha"),
        ("Default rate", "60 kg/ha"), ("Outside the boundary", "0 kg/ha"), ("No position", "60 kg/ha"),
        ("Rates to pick by hand", "60, 90 kg/ha"),
    ]  # fmt: skip


def test_drives_of_one_group_stand_together() -> None:
    """What runs at one rate is one line; a drive without a group is its own."""
    drives = [
        {"name": "left", "span": ["-9 m", "0 m"], "product": "Granular B", "group": "wings"},
        {"name": "right", "span": ["0 m", "9 m"], "product": "Granular B", "group": "wings"},
        {"name": "rear", "span": ["-1 m", "1 m"], "product": "Granular B"},
    ]
    found = content_of(
        zone_map("A"), (granular(), {"A": 60}), machine={"name": "bar", "width": "18 m", "drive": drives}
    )
    assert [(fact.label, fact.value) for fact in found.machine] == [
        ("Machine", "bar, 18 m wide"),
        ("Group wings", "left: Granular B, from 9 m left to the centre line; "
         "right: Granular B, from the centre line to 9 m right"),
        ("Drive on its own", "rear: Granular B, from 1 m left to 1 m right"),
    ]  # fmt: skip
    assert found.products[0].drives == ("left (group wings)", "right (group wings)", "rear")


@pytest.mark.parametrize("name", SAMPLES)
def test_files_are_named_with_code_and_checksum(name: str) -> None:
    """What the stick must hold: each product's maps, what lies beside them, and the column to choose."""
    found = sample_content(name)
    digests = {one.path.rpartition("/")[2]: one.sha256 for one in found.outputs}
    for one in found.products:
        assert one.files
        assert one.column
        assert one.written_unit == one.unit
        for file in one.files:
            assert digests[file.name] == file.sha256
            assert file.name.rpartition(".")[0].endswith(f"_{file.code}")
            assert set(file.beside) <= digests.keys()
            assert bool(file.beside) is (file.format == "shapefile")
            assert [file.rates_sha256] == ([digests[at] for at in file.beside if at.endswith(".dbf")] or [""])
    for met in found.limits:
        assert number(met.needed) <= number(met.allowed)


def test_what_stays_in_a_box_is_needed_beside_the_order() -> None:
    """Barley seed, 5,950 kg in whole bags, and 60 kg that the box can't put out: 6,010 kg, by hand."""
    (seeds,) = [one for one in sample_content("bergwind").products if one.name == "Barley seed"]
    assert seeds.order[-1].amount == "5,950.0"
    assert seeds.loads is not None
    assert (seeds.loads.stays, seeds.loads.on_hand) == ("60.0", "6,010.0")
    beets = sample_content("przy_torze").products
    assert not any(one.loads.stays or one.loads.on_hand for one in beets if one.loads is not None)


@pytest.mark.parametrize("name", SAMPLES)
def test_content_turns_into_json_and_back(name: str) -> None:
    """Nothing is lost, and the same content gives the same bytes."""
    found = sample_content(name)
    data = content_json(found)
    assert read_content(data, source="report.json") == found
    assert content_json(read_content(data, source="report.json")) == data


TEXT = st.text(max_size=40)


@hypothesis_settings(deadline=None)
@drawn_by(name=st.text(min_size=1, max_size=80).filter(str.strip), notes=TEXT, client=TEXT, crop=TEXT)
def test_names_of_any_kind_come_through(name: str, notes: str, client: str, crop: str) -> None:
    """Accents, markup, control characters: text stays text."""
    field = {"name": name, "season": 2027, "boundary": "b.geojson", "client": client, "crop": crop}
    found = content_of(zone_map("A"), (granular(), {"A": 60}), field=field, notes=notes)
    again = read_content(content_json(found), source="report.json")
    assert again == found
    assert {fact.label: fact.value for fact in again.facts}["Field"] == found.title


@pytest.mark.parametrize(
    "damage",
    [
        pytest.param(lambda data: data[:-40], id="cut off"),
        pytest.param(lambda data: b"{}", id="empty"),
        pytest.param(lambda data: b"\xff\xfe", id="no UTF-8"),
        pytest.param(lambda data: data.replace(b'"stopped":false', b'"stopped":"perhaps"'), id="another type"),
    ],
)
def test_damaged_content_is_refused_in_words(damage: object) -> None:
    """What and where, and what to do."""
    data = content_json(content_of(zone_map("A"), (granular(), {"A": 60})))
    with pytest.raises(InputError) as err:
        read_content(damage(data), source="report.json")  # type: ignore[operator]  # one of the functions above
    assert "can't be read" in err.value.problem
    assert "build the plan again" in err.value.remedy
    assert err.value.where == "report.json"


def test_without_pictures_nothing_is_drawn() -> None:
    """Text and numbers are the same; every shape is left out."""
    from vrx.ledgers.build import ledger_of
    from vrx.reports.content import Written, gather

    drawn = zone_map("A B!0", keep_outs=[()])
    made = plan_of(seed(), zones={"from": "z.geojson"})
    prescription = prescription_of(drawn, made, {"A": 32000, "B": 32000})
    ledger = ledger_of(prescription, field="Vlei", system="metric")
    written = Written(by="vrx", plan_name="plan.toml", sheets=(), files=(), inputs=())
    whole, plain = (
        gather(made, prescription, ledger, prescription.findings, written, pictures=pictures)
        for pictures in (True, False)
    )
    assert shapes_of(whole) > 0
    assert shapes_of(plain) == 0
    assert rows_of(whole.products) == rows_of(plain.products)


def shapes_of(content: Content) -> int:
    return len(re.findall("POLYGON", json.dumps(content_json(content).decode())))


def rows_of(products: tuple[ProductContent, ...]) -> list[object]:
    return [one.rows for one in products]
