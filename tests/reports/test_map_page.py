"""The page of a map: it says all that it should, in its place, and nothing runs into anything else."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from support_drawings import area_of, areas, box_of, clashes, texts, words
from support_html_content import (
    box,
    content,
    finding,
    hard_names,
    long_field,
    many_zones,
    one_zone,
    parts,
    rates,
    stopped,
    twelve_products,
    two_products,
)
from support_map_content import cell_map, scattered

from vrx.model.content import Backdrop, Content, Fact, KeepOutContent, OverlayLine, Patch
from vrx.model.drawing import Area, Drawing, Line, Picture, Words
from vrx.reports.maps.page import PAPER_MM, map_only, map_page, only_frame
from vrx.reports.maps.stopped import STOPPED


def tall_field() -> Content:
    """A field 20 m wide and 1,000 m from south to north."""
    product = rates("Seed", [str(80 + 5 * at) for at in range(10)])
    strips = tuple(Patch(row=at, shape=box(0, 100 * at, 20, 100 * at + 100)) for at in range(10))
    return content(replace(product, patches=strips), size=(20.0, 1000.0))


def four_decimals() -> Content:
    """Rates with four decimals, twelve of them."""
    return content(rates("Seed", [f"{1000.1234 + 7 * at:.4f}" for at in range(12)], columns=4), size=(400, 300))


def in_feet() -> Content:
    """A field in acres, on the paper that goes with it."""
    return replace(two_products(), area_unit="ac", paper="letter")


def tiny_parts() -> Content:
    """Sixty cells of a field in a corner a seventh of its width."""
    return cell_map(scattered(120, 3), ["80", "82.5", "85", "0", "90", "95.25", "12000"], width=800, height=600)


def overlapping_keep_outs() -> Content:
    """Three keep-outs across each other and beyond the boundary."""
    shapes = (box(20, 20, 120, 90), box(90, 60, 190, 120), box(-400, 150, 60, 500))
    kept = tuple(
        KeepOutContent(name=f"pond {at}", binds="every product", set_back="", area="0.7 ha", shape=shape)
        for at, shape in enumerate(shapes)
    )
    return content(rates("Seed", ["80"] * 6, columns=3, keep_outs=(0, 1, 2)), keep_outs=kept)


CASES = [
    two_products, one_zone, many_zones, long_field, tall_field, hard_names, twelve_products, stopped, parts,
    four_decimals, in_feet, tiny_parts, overlapping_keep_outs,
]  # fmt: skip
EVERY_CASE = pytest.mark.parametrize("case", CASES, ids=lambda case: case.__name__)


@EVERY_CASE
def test_nothing_is_cut_off_or_runs_into_anything_else(case: Callable[[], Content]) -> None:
    """Every line of text of every page is on the paper, and no two boxes of text meet."""
    given_content = case()
    for at in {0, len(given_content.products) - 1}:
        drawing = map_page(given_content, at)
        boxes = [(mark.text, box_of(mark)) for mark in words(drawing)]
        paper = shapely.box(0, 0, drawing.width, drawing.height)
        assert [text for text, one in boxes if not paper.covers(one)] == []
        assert clashes(boxes) == []


@EVERY_CASE
def test_a_map_alone_stays_in_its_width(case: Callable[[], Content]) -> None:
    """At the width asked for; nothing sticks out and no two boxes of text meet."""
    drawing = map_only(case(), 0, width=120)
    assert drawing.width == 120
    boxes = [(mark.text, box_of(mark)) for mark in words(drawing)]
    paper = shapely.box(0, 0, drawing.width, drawing.height)
    assert [text for text, one in boxes if not paper.covers(one)] == []
    assert clashes(boxes) == []


@EVERY_CASE
def test_every_patch_and_keep_out_is_drawn(case: Callable[[], Content]) -> None:
    """Each by its own key, at one scale, where it is in the content."""
    made = case()
    product = made.products[0]
    frame = only_frame(made, product, width=120)
    drawn = areas(map_only(made, 0, width=120), "patch")
    assert set(drawn) == set(range(len(product.patches)))
    for at, patch in enumerate(product.patches):
        expected = shapely.transform(shapely.from_wkt(patch.shape), frame.on_page)
        assert shapely.hausdorff_distance(drawn[at], expected) < 0.01
    assert set(areas(map_only(made, 0, width=120), "keep-out")) == set(product.keep_outs)


def labels(drawing: Drawing) -> list[Words]:
    """Return what is written on the map itself: no marks of findings, no scale bar, no north arrow."""
    west, north, east, south = shapely.total_bounds(list(areas(drawing, "patch").values()))
    return [
        mark
        for mark in words(drawing)
        if not mark.key and mark.text != STOPPED and west < mark.x < east and north < mark.y < south
    ]


def wrongly_placed(drawing: Drawing) -> list[str]:
    """Return the labels that are not wholly inside one zone or keep-out."""
    grounds = [*areas(drawing, "patch").values(), *areas(drawing, "keep-out").values()]
    return [
        mark.text for mark in labels(drawing) if not any(shapely.covers(one, box_of(mark)) for one in grounds)
    ]  # fmt: skip


@EVERY_CASE
def test_no_label_leaves_its_zone(case: Callable[[], Content]) -> None:
    """Rates, names and numbers alike."""
    assert wrongly_placed(map_only(case(), 0, width=120)) == []


PILL_CORNERS = 27  # of the ring around a number
POINTS = st.lists(st.tuples(st.floats(1, 399), st.floats(1, 299)), min_size=2, max_size=40, unique=True)


@settings(max_examples=40, deadline=None)
@given(POINTS, st.lists(st.sampled_from(["0", "80", "82.5", "7.1234", "32000"]), min_size=1, max_size=5), st.booleans())
def test_labels_of_any_map_are_inside_and_apart(
    points: list[tuple[float, float]], given_rates: list[str], halted: bool
) -> None:
    """Cells of any points, with findings in the midst of them: a property, not a matter of luck."""
    found = tuple(finding(at + 1, place=point) for at, point in enumerate(points[:8]))
    made = cell_map(points, given_rates, width=400, height=300, findings=found, stopped=halted)
    drawing = map_only(made, 0, width=130)
    assert wrongly_placed(drawing) == []
    marks = [(mark.key, area_of(mark)) for mark in drawing.marks if isinstance(mark, Area) and "finding" in mark.key]
    boxes = [(mark.text, box_of(mark)) for mark in words(drawing) if "finding" not in mark.key]
    assert clashes([*marks, *boxes]) == []


@settings(max_examples=25, deadline=None)
@given(POINTS)
def test_every_part_is_labelled_numbered_joined_or_counted(points: list[tuple[float, float]]) -> None:
    """With all rates different: a part has its rate, else its number with a line in the key, else it is counted."""
    given_rates = [f"{80 + at}" for at in range(len(points))]
    made = cell_map(points, given_rates, width=400, height=300)
    drawing = map_page(made, 0)
    said = labels(drawing)
    ringed = [mark for mark in drawing.marks if isinstance(mark, Area) and len(mark.rings[0]) == PILL_CORNERS]
    rings = shapely.union_all([area_of(mark) for mark in ringed])
    numbers = {mark.text for mark in said if shapely.covers(rings, box_of(mark))}
    printed = {mark.text for mark in said if mark.bold}
    small = next((text for text in texts(drawing) if "without a label" in text), "0 smaller parts")
    key = {text for text in texts(drawing) if text.startswith("zone ")} - {mark.text for mark in said}
    assert len(key) == len(numbers)
    assert len(printed) + len(numbers) + int(small.split()[0]) == len(made.products[0].patches)


def test_the_page_says_what_it_is_of() -> None:
    """Field, product, unit, farm, season, crop, plan date, revision, place, CRS and who prepared it."""
    facts = (
        Fact(label="Client", value="Erf"), Fact(label="Field", value="Vlei"), Fact(label="Crop", value="wheat"),
        Fact(label="Date", value="2027-04-01"), Fact(label="Revision", value="3"),
        Fact(label="Prepared by", value="P. Roux"),
    )  # fmt: skip
    said = texts(map_page(replace(two_products(), facts=facts), 1))
    assert "Vlei" in said
    assert "Lime: rates in kg/ha" in said
    assert "Client: Erf · Crop: wheat · Plan date: 2027-04-01 · Revision: 3" in said
    assert "Place: 33.9000 S, 18.6000 E" in said
    assert "Map coordinates of the files (CRS): WGS 84 (EPSG:4326)" in said
    assert "Prepared by: P. Roux" in said
    assert "vrx 0 · map 2 of 2" in said


def test_the_legend_has_every_class_with_its_ground_share_and_amount_and_the_total() -> None:
    """As the content has them, each on one line, the highest rate first."""
    made = two_products()
    product = made.products[1]
    drawing = map_page(made, 1)
    lines: dict[float, list[str]] = {}
    left = min(mark.x for mark in words(drawing) if mark.text == "rate") - 20
    for mark in sorted(words(drawing), key=lambda one: one.x):
        if mark.x < left:
            continue
        lines.setdefault(round(mark.y, 3), []).append(mark.text)
    legend = [line for _, line in sorted(lines.items())]
    expected = [[one.rate, one.area, one.share, one.amount] for one in product.classes if one.shade >= 0]
    off = [["0 (off)", one.area, one.share, one.amount] for one in product.classes if one.shade < 0]
    wanted = [["rate", "ha", "share", "kg"], *reversed(expected), *off, ["total", "6.000", "200.0"]]
    start = legend.index(wanted[0])
    assert legend[start : start + len(wanted)] == wanted


def test_the_rates_printed_are_those_given() -> None:
    """Each in its own zone, with the zone's name below; off in words."""
    made = two_products()
    drawing = map_only(made, 1, width=150)
    patches = areas(drawing, "patch")
    for at, row in enumerate(made.products[1].rows):
        inside = [mark.text for mark in words(drawing) if shapely.covers(patches[at], box_of(mark)) and not mark.key]
        assert [text for text in inside if text not in {"keep out", "pond"}] == [
            "off" if row.given == "0" else row.given,
            row.zone,
        ]


def test_off_and_keep_outs_are_told_by_hatch_and_word_too() -> None:
    """Not by colour alone: slanted lines and 'off', crossed lines and 'keep out' with the name."""
    drawing = map_only(two_products(), 1, width=150)
    hatches = {mark.key: mark.hatch for mark in drawing.marks if isinstance(mark, Area) and mark.key}
    assert hatches["patch 3"] == "slanted"
    assert hatches["keep-out 0"] == "crossed"
    assert {hatches[f"patch {at}"] for at in (0, 1, 2, 4, 5)} == {""}
    assert {"off", "keep out", "pond"} <= set(texts(drawing))


def test_overlays_are_named_with_what_they_do() -> None:
    """A ring of another rate is told from a zone by its overlay's name; a map without overlays has no such line."""
    two = (
        OverlayLine(name="end rows", what="x 0.5", area="1.200 ha", amount="-90.0 kg"),
        OverlayLine(name="wet hollow", what="0 kg/ha", area="0.300 ha", amount="-45.0 kg"),
    )
    for overlays, line in ((two, "overlays: end rows (x 0.5), wet hollow (0 kg/ha)"), ((), "")):
        drawing = map_page(content(rates("Lime", ["10", "20"], overlays=overlays)), 0)
        said = " ".join(texts(drawing))
        assert line in said
        assert ("overlays" in said) is bool(line)


def test_many_overlays_are_cut_and_counted() -> None:
    """As keep-outs are: a few lines of names, and how many more."""
    many = tuple(OverlayLine(name=f"hollow number {at}", what="x 0.5", area="", amount="") for at in range(40))
    said = " ".join(texts(map_page(content(rates("Lime", ["10", "20"], overlays=many)), 0)))
    named = said.count("hollow number")
    assert 2 < named < 20
    assert f"and {40 - named} more" in said


def test_a_keep_out_that_does_not_bind_the_product_is_not_on_its_map() -> None:
    """The pond holds for lime alone."""
    assert areas(map_only(two_products(), 0, width=120), "keep-out") == {}


def test_borders_between_rates_are_stronger_than_those_between_zones() -> None:
    """The outline of a rate is drawn wider than that of a zone, and over it."""
    drawing = map_only(two_products(), 0, width=150)
    zone = [mark.width for mark in drawing.marks if isinstance(mark, Area) and mark.key.startswith("patch")]
    rate = [mark.width for mark in drawing.marks if isinstance(mark, Area) and not mark.key and not mark.fill]
    assert min(rate) > 2 * max(zone)


@pytest.mark.parametrize(
    ("area_unit", "unit", "metres"),
    [pytest.param("ha", "m", 1.0, id="metres"), pytest.param("ac", "ft", 0.3048, id="feet")],
)
def test_the_scale_bar_is_as_long_as_it_says(area_unit: str, unit: str, metres: float) -> None:
    """In round numbers of the plan's unit, measured against the field's drawn width of 300 m."""
    made = replace(two_products(), area_unit=area_unit)
    drawing = map_only(made, 0, width=150)
    mm_per_m = (shapely.total_bounds(list(areas(drawing, "patch").values()))[[0, 2]] @ [-1, 1]) / 300
    end = next(mark for mark in words(drawing) if mark.text.endswith(f" {unit}"))
    length = float(end.text.split()[0].replace(",", ""))
    assert f"{length:.0f}"[0] in "125"
    bottom = max(one.bounds[3] for one in areas(drawing, "patch").values())
    boxes = [mark for mark in drawing.marks if isinstance(mark, Area) and len(mark.rings[0]) == 5]
    west, _, east, _ = shapely.total_bounds([one for one in map(area_of, boxes) if one.bounds[1] > bottom])
    assert east - west == pytest.approx(length * metres * mm_per_m, rel=1e-6)


def test_north_is_up() -> None:
    """An N, and the northern zones above the southern ones."""
    drawing = map_only(two_products(), 0, width=150)
    patches = areas(drawing, "patch")
    assert "N" in texts(drawing)
    assert patches[3].bounds[3] <= patches[0].bounds[1] + 1e-6


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_page_is_of_the_paper_asked_for_and_turned_as_the_field_wants(paper: str) -> None:
    """Lengthwise for a wide field, upright for a tall one."""
    short, long = PAPER_MM[paper]  # type: ignore[index]
    wide, tall = (map_page(replace(case(), paper=paper), 0) for case in (long_field, tall_field))  # type: ignore[arg-type]
    assert (wide.width, wide.height) == (long, short)
    assert (tall.width, tall.height) == (short, long)


def test_findings_are_marked_at_their_place_by_shape_and_number() -> None:
    """A stop is an octagon, a caution a triangle; a note is left to the report; another product's too."""
    found = (
        finding(1, severity="stop", place=(50, 150)),
        finding(2, place=(150, 150), product="Seed"),
        finding(3, place=(250, 150), product="Lime"),
        finding(4, severity="note", place=(250, 50)),
        finding(5),
    )
    made = replace(two_products(), findings=found)
    drawing = map_only(made, 0, width=150)
    marks = {
        mark.key: len(mark.rings[0]) - 1 for mark in drawing.marks if isinstance(mark, Area) and "find" in mark.key
    }
    assert marks == {"finding 1": 8, "finding 2": 3}
    assert [mark.text for mark in words(drawing) if mark.key.startswith("finding")] == ["1", "2"]
    frame = only_frame(made, made.products[0], width=150)
    places = areas(drawing, "finding")
    for number, place in ((1, (50, 150)), (2, (150, 150))):
        assert shapely.covers(places[number], shapely.points(frame.on_page(np.array([place]))[0]))


def test_sixty_findings_at_one_place_do_not_cover_each_other() -> None:
    """Each has its mark, and a line to the place from all but one."""
    found = tuple(finding(at + 1, place=(150, 100)) for at in range(60))
    drawing = map_page(replace(two_products(), findings=found), 0)
    marks = areas(drawing, "finding")
    assert set(marks) == set(range(1, 61))
    assert clashes([(str(number), one) for number, one in marks.items()]) == []
    assert (
        sum(isinstance(mark, Line) and mark.stroke == "#000000" and mark.width == 0.3 for mark in drawing.marks) >= 59
    )


def test_findings_beyond_the_map_are_marked_at_its_edge() -> None:
    """A file of another farm, 500 km away: the mark stays on the map."""
    drawing = map_page(replace(two_products(), findings=(finding(1, place=(5e5, 5e5)),)), 0)
    paper = shapely.box(0, 0, drawing.width, drawing.height)
    assert shapely.covers(paper, areas(drawing, "finding")[1])
    points = np.concatenate([mark.points for mark in drawing.marks if isinstance(mark, Line)])
    assert shapely.covers(paper, shapely.points(points)).all()


def test_a_mark_gives_way_to_the_rate_of_a_small_zone() -> None:
    """The rate is printed though the finding is in the middle of the zone."""
    product = rates("Seed", ["80", "95"])
    shapes = (
        "POLYGON ((0 0, 300 0, 300 200, 0 200, 0 0), (140 90, 160 90, 160 105, 140 105, 140 90))",
        box(140, 90, 160, 105),
    )
    product = replace(product, patches=tuple(Patch(row=at, shape=shape) for at, shape in enumerate(shapes)))
    drawing = map_only(content(product, findings=(finding(1, place=(150, 97)),)), 0, width=120)
    assert "95" in texts(drawing)
    assert 1 in areas(drawing, "finding")


def test_a_stopped_build_says_so_across_its_map() -> None:
    """Over the zones of the page and of the map alone; a good one does not."""
    for draw in (lambda one: map_page(one, 0), lambda one: map_only(one, 0, width=120)):
        drawing = draw(stopped())
        said = next(mark for mark in words(drawing) if mark.text == "STOPPED: not for the machine")
        grounds = shapely.union_all(list(areas(drawing, "patch").values()))
        assert shapely.area(shapely.intersection(grounds, box_of(said))) > 0.9 * shapely.area(box_of(said))
        assert STOPPED not in texts(draw(two_products()))


def test_what_is_too_small_is_numbered_while_the_key_has_room_and_then_counted() -> None:
    """Numbers in rings and lines in the key go together; the rest is one line."""
    drawing = map_page(tiny_parts(), 0)
    said = texts(drawing)
    assert "Small parts, by number" in said
    line = next(text for text in said if "without a label" in text)
    assert line.startswith(f"{line.split()[0]} smaller parts, about 0.")
    assert line.endswith("ha in all, without a label: the report lists them.")


def test_small_parts_beside_a_labelled_one_of_their_rate_need_no_label() -> None:
    """A strip too thin for its rate touches a field of the same rate: it is neither numbered nor counted."""
    product = rates("Seed", ["80", "80", "90"])
    shapes = (box(0, 0, 300, 100), box(0, 100, 300, 101), box(0, 101, 300, 200))
    product = replace(product, patches=tuple(Patch(row=at, shape=shape) for at, shape in enumerate(shapes)))
    said = texts(map_page(content(product), 0))
    assert said.count("80") == 2  # on the map and in the legend
    assert not any("without a label" in text or "Small parts" in text for text in said)
    other = replace(product, rows=(product.rows[0], replace(product.rows[1], given="85"), product.rows[2]))
    assert any("1 smaller part, " in text for text in texts(map_page(content(other), 0)))


def test_a_backdrop_shines_through() -> None:
    """The picture lies first, at its place, and zones over it are half transparent; labels have a halo."""
    from PIL import Image

    file = io.BytesIO()
    Image.new("L", (30, 20), 128).save(file, format="PNG")
    png = base64.b64encode(file.getvalue()).decode()
    behind = Backdrop(name="soil.tif", png=png, west=-30, south=-20, east=330, north=220)
    drawing = map_only(replace(two_products(), backdrop=behind), 0, width=120)
    first = drawing.marks[0]
    assert isinstance(first, Picture)
    patches = [mark for mark in drawing.marks if isinstance(mark, Area) and mark.key.startswith("patch")]
    assert all(mark.opacity < 1 for mark in patches)
    bounds = shapely.total_bounds([area_of(mark) for mark in patches])
    mm_per_m = (bounds[2] - bounds[0]) / 300
    assert first.width == pytest.approx(360 * mm_per_m)
    assert first.x == pytest.approx(bounds[0] - 30 * mm_per_m)
    assert all(mark.halo for mark in labels(drawing) if mark.bold and mark.text != "off")
    assert "Behind the map: soil.tif" in texts(map_page(replace(two_products(), backdrop=behind), 0))


def test_outlines_as_a_backdrop() -> None:
    """Lines, drawn before the zones."""
    behind = Backdrop(
        name="soils.geojson", png="", lines="MULTILINESTRING ((0 0, 300 200), (0 200, 300 0))",
        west=-18, south=-18, east=318, north=218,
    )  # fmt: skip
    drawing = map_only(replace(two_products(), backdrop=behind), 0, width=120)
    assert [type(mark) for mark in drawing.marks[:3]] == [Line, Line, Area]


def test_a_product_without_treated_ground_has_a_page_too() -> None:
    """Nothing to treat: the boundary, and a legend with its total alone."""
    empty = replace(rates("Seed", ["80"]), patches=(), rows=(), classes=(), true_area="0.000 ha", total="0.0 kg")
    said = texts(map_page(content(empty), 0))
    assert {"total", "0.000", "0.0", "N"} <= set(said)


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("size", [(300.0, 400.0), (1000.0, 20.0), (20.0, 1000.0)])
def test_all_that_is_long_at_once_still_has_room(paper: str, size: tuple[float, float]) -> None:
    """Nine facts, thirteen rates, thirty keep-outs and long units, each name of 80 letters."""
    name = "Łąka <b> " + "ä" * 71
    facts = tuple(
        Fact(label=label, value=name)
        for label in ("Client", "Farm", "Field", "Season", "Crop", "Date", "Revision", "Prepared by", "Approved by")
    )
    ponds = tuple(
        KeepOutContent(name=f"{at} {name}", binds=name, set_back="", area="0.1 ha", shape=box(at, at, at + 6, at + 6))
        for at in range(30)
    )
    given_rates = ["0", *(f"{32000.1234 + at:.4f}" for at in range(12))]
    product = rates(name, given_rates, columns=3, unit="unit(80000 seeds)/ac", keep_outs=tuple(range(30)))
    width, height = size
    strips = tuple(Patch(row=at, shape=box(0, height / 13 * at, width, height / 13 * (at + 1))) for at in range(13))
    product = replace(
        product, patches=strips, amount_unit="unit(80000 seeds)", total="2,379,000,000.5 unit(80000 seeds)",
        rows=tuple(replace(row, zone=name) for row in product.rows),
    )  # fmt: skip
    crs = tuple(Fact(label="Map coordinates of the files (CRS)", value=name) for _ in range(2))
    found = tuple(finding(at + 1, severity="stop", place=(width / 2, height / 2)) for at in range(20))
    made = content(
        product, size=size, paper=paper, facts=facts, keep_outs=ponds, crs=crs, findings=found, stopped=True, title=name
    )
    drawing = map_page(made, 0)
    boxes = [(mark.text, box_of(mark)) for mark in words(drawing)]
    sheet = shapely.box(0, 0, drawing.width, drawing.height)
    assert [text for text, one in boxes if not sheet.covers(one)] == []
    assert clashes(boxes) == []
    assert min(mark.size for mark in words(drawing)) >= 1.6
