"""Overlays, parts of a field and several zone layers, through the build, on fields whose areas are closed forms."""

from __future__ import annotations

import csv
from math import pi
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from support_cases import feature, polygon, rectangle, write_geojson
from support_fields import EAST_M, FIELD_HA, HEIGHT_M, SECOND, WEST_M, WIDTH_M, bench, keep_out, write_box, write_line
from support_plans import Outcome, build_plan

from vrx.geo.coverage import Cut, settle_slivers

Capture = pytest.CaptureFixture[str]
HA = 10_000.0
KEEP_ALL = 'smallest_area = "0 m2"\nthin_parts = "report"\n'
MACHINE = '\n[machine]\nname = "bar"\nwidth = "12 m"\n'


def overlay(where: str, **keys: Any) -> str:
    """Return an ``[[overlay]]`` table; keys as they stand in TOML."""
    return "".join(["\n[[overlay]]\n", f'where = "{where}"\n', *(f"{key} = {value}\n" for key, value in keys.items())])


def built(
    folder: Path, capsys: Capture, *overlays: str, rest: str = "", top: str = KEEP_ALL, **changes: Any
) -> Outcome:
    out = build_plan(folder, bench(folder, rest="".join(overlays) + rest, top=top, **changes), capsys, "--force")
    assert out.code in (0, 1, 2)
    return out


def area_of(out: Outcome, name: str, product: int = 0) -> float:
    (found,) = [one for one in out.said["products"][product]["overlays"] if one["name"] == name]
    return float(found["geodesic_area_m2"])


def zones(out: Outcome, product: int = 0) -> dict[str, tuple[float, float]]:
    """Return wanted and given of each zone."""
    return {row["zone"]: (row["wanted"], row["given"]) for row in out.said["products"][product]["zones"]}


# --- ground: closed forms


@pytest.mark.source("closed form", "a frame of width d in a rectangle: WH - (W - 2d)(H - 2d)")
@pytest.mark.parametrize(
    ("where", "width_m"), [("headland 1 lap", 12.0), ("headland 3 laps", 36.0), ("edge 20 m", 20.0)]
)
def test_the_frame_of_a_rectangle(where: str, width_m: float, tmp_path: Path, capsys: Capture) -> None:
    out = built(tmp_path, capsys, overlay(where, factor=0.8), rest=MACHINE)
    frame = WIDTH_M * HEIGHT_M - (WIDTH_M - 2 * width_m) * (HEIGHT_M - 2 * width_m)
    assert area_of(out, where) == pytest.approx(frame, rel=1e-6)


@pytest.mark.source("closed form", "a ring of width d in a circle: pi (R2 - (R - d)2)")
def test_the_ring_of_a_circle(tmp_path: Path, capsys: Capture) -> None:
    """A field of 4,000 corners on a circle of 200 m: its ring comes within a hundred-thousandth of the circle's."""
    angles = np.linspace(0, 2 * pi, 4001)
    circle = polygon([(200 * np.cos(one), 200 * np.sin(one)) for one in angles])
    text = bench(tmp_path, rest=overlay("edge 30 m", factor=0.5), top=KEEP_ALL)
    write_geojson(tmp_path / "boundary.geojson", [feature(circle)])
    write_geojson(tmp_path / "zones.geojson", [feature(circle, zone="A", rate=100)])
    out = build_plan(tmp_path, text, capsys)
    assert area_of(out, "edge 30 m") == pytest.approx(pi * (200**2 - 170**2), rel=1e-5)


@pytest.mark.source("closed form", "a frame of width d with round corners around a rectangle: 2d(w + h) + pi d2")
def test_laps_go_around_a_keep_out_too(tmp_path: Path, capsys: Capture) -> None:
    """Round the corners of a hut, and only for an overlay that is about what the keep-out binds."""
    write_box(tmp_path / "hut.geojson", 0, 100, 20, 120)
    hut = keep_out("hut.geojson", products='["Granular"]')
    out = built(
        tmp_path,
        capsys,
        overlay("headland 1 lap", factor=0.8, products='["Granular"]', why='"turns"'),
        overlay("headland 1 lap", factor=0.8, products='["Second"]', why='"plain turns"'),
        rest=MACHINE + hut + SECOND,
    )
    frame = WIDTH_M * HEIGHT_M - (WIDTH_M - 24) * (HEIGHT_M - 24)
    around = 2 * 12 * (20 + 20) + pi * 12**2
    assert area_of(out, "turns") == pytest.approx(frame + around, rel=2e-5)
    assert area_of(out, "plain turns", 1) == pytest.approx(frame, rel=1e-6)


def test_an_edge_goes_along_the_boundary_alone(tmp_path: Path, capsys: Capture) -> None:
    """Not around a keep-out."""
    write_box(tmp_path / "hut.geojson", 0, 100, 20, 120)
    out = built(tmp_path, capsys, overlay("edge 12 m", factor=0.8), rest=keep_out("hut.geojson"))
    assert area_of(out, "edge 12 m") == pytest.approx(WIDTH_M * HEIGHT_M - (WIDTH_M - 24) * (HEIGHT_M - 24), rel=1e-6)


# --- rates


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        pytest.param({"factor": 0.8}, {"A": (85, 85), "wet: A": (68, 70)}, id="a factor"),
        pytest.param({"add": '"12 kg/ha"'}, {"A": (85, 85), "wet: A": (97, 95)}, id="an addition"),
        pytest.param({"add": '"-15 kg/ha"'}, {"A": (85, 85), "wet: A": (70, 70)}, id="less"),
        pytest.param({"rate": '"40 kg/ha"'}, {"A": (85, 85), "wet": (40, 40)}, id="a rate of its own"),
        pytest.param({"rate": '"0 kg/ha"'}, {"A": (85, 85), "wet": (0, 0)}, id="off"),
        pytest.param({"rate": '"40000 g/ha"'}, {"A": (85, 85), "wet": (40, 40)}, id="another unit"),
    ],
)
def test_an_overlay_changes_the_wanted_rate(
    change: dict[str, Any], expected: dict[str, tuple[float, float]], tmp_path: Path, capsys: Capture
) -> None:
    """Before limits and steps; the ground has a name of its own, with the zone where that zone's rate was changed."""
    write_box(tmp_path / "wet.geojson", WEST_M + 20, 50, WEST_M + 60, 150)
    out = built(tmp_path, capsys, overlay("wet.geojson", why='"wet"', **change))
    found = zones(out)
    assert {name: found[name] for name in expected} == expected
    assert area_of(out, "wet") == pytest.approx(4000, rel=1e-6)


def test_what_an_overlay_changes_is_accounted_for(tmp_path: Path, capsys: Capture) -> None:
    """0.4 ha at 0.8 of 85 kg/ha are 6.8 kg less; the ledger has a line for it, and its totals hold it."""
    write_box(tmp_path / "wet.geojson", WEST_M + 20, 50, WEST_M + 60, 150)
    out = built(tmp_path, capsys, overlay("wet.geojson", factor=0.8, why='"wet"'))
    (product,) = out.said["products"]
    (found,) = product["overlays"]
    assert found["what"] == "x 0.8"
    assert found["amount"] == pytest.approx(-6.8, rel=1e-6)
    assert product["total_wanted"] == pytest.approx(1147.5 - 6.8, rel=1e-6)
    assert sum(row["geodesic_area_m2"] for row in product["zones"]) == pytest.approx(FIELD_HA * HA, rel=1e-6)
    with (tmp_path / "plan-bundle" / "paper" / "ledger.csv").open(encoding="utf-8", newline="") as file:
        (line,) = [row for row in csv.DictReader(file) if row["line"] == "overlay"]
    assert (line["zone"], float(line["amount_wanted"])) == ("wet", pytest.approx(-6.8, rel=1e-6))
    assert float(line["geodesic_m2"]) == pytest.approx(4000, rel=1e-6)


def test_overlays_are_laid_in_their_order(tmp_path: Path, capsys: Capture) -> None:
    """Half of 85, then 10 more; where a rate of its own comes last, it holds."""
    write_box(tmp_path / "a.geojson", WEST_M + 20, 50, WEST_M + 60, 150)
    write_box(tmp_path / "b.geojson", WEST_M + 20, 100, WEST_M + 60, 150)
    half = overlay("a.geojson", factor=0.5, why='"half"')
    more = overlay("b.geojson", add='"10 kg/ha"', why='"more"')
    found = zones(built(tmp_path, capsys, half, more))
    assert found["more: half: A"] == (52.5, 55)
    found = zones(built(tmp_path, capsys, half, overlay("b.geojson", rate='"120 kg/ha"', why='"strip"'), rest=""))
    assert found["strip"] == (120, 120)


def test_two_rates_on_the_same_ground_are_told(tmp_path: Path, capsys: Capture) -> None:
    """The later one holds, with a caution that names both and where they meet."""
    write_box(tmp_path / "a.geojson", WEST_M + 20, 50, WEST_M + 60, 150)
    write_box(tmp_path / "b.geojson", WEST_M + 20, 100, WEST_M + 60, 150)
    out = built(
        tmp_path, capsys,
        overlay("a.geojson", rate='"60 kg/ha"', why='"first"'), overlay("b.geojson", rate='"70 kg/ha"', why='"second"'),
    )  # fmt: skip
    (finding,) = out.named("overlays-contradict")
    assert finding["severity"] == "caution"
    assert finding["area_m2"] == pytest.approx(2000, rel=1e-6)
    assert zones(out)["second"] == (70, 70)


def test_an_overlay_says_which_products_it_is_about(tmp_path: Path, capsys: Capture) -> None:
    """The other product's zones are as they were."""
    write_box(tmp_path / "wet.geojson", WEST_M + 20, 50, WEST_M + 60, 150)
    out = built(tmp_path, capsys, overlay("wet.geojson", factor=0, products='["Second"]', why='"wet"'), rest=SECOND)
    assert set(zones(out)) == {"A", "B", "C"}
    assert zones(out, 1)["wet: A"] == (0, 0)


def test_an_overlay_on_ground_without_a_zone_starts_from_the_default(tmp_path: Path, capsys: Capture) -> None:
    """Where the map says nothing, the default is what is wanted, and a factor changes that."""
    write_box(tmp_path / "wet.geojson", EAST_M - 60, 100, EAST_M - 20, 140)
    text = bench(tmp_path, rest=overlay("wet.geojson", factor=0.5, why='"wet"'), top=KEEP_ALL).replace(
        'step = "5 kg/ha"', 'step = "5 kg/ha"\ndefault = "100 kg/ha"'
    )
    write_geojson(tmp_path / "zones.geojson", [feature(polygon(rectangle(WEST_M, 0, 0, 250)), zone="A", rate=85)])
    out = build_plan(tmp_path, text, capsys)
    assert zones(out)["(no zone)"] == (100, 100)
    assert zones(out)["wet: (no zone)"] == (50, 50)


def test_a_rate_of_its_own_stands_in_for_a_missing_one(tmp_path: Path, capsys: Capture) -> None:
    """Ground of a zone without a rate that an overlay rates whole is no fault; a factor on nothing is one."""
    text = bench(tmp_path, top=KEEP_ALL)
    west, east = (polygon(rectangle(x, 0, x + 210, 250)) for x in (-210, 0))
    write_geojson(tmp_path / "zones.geojson", [feature(west, zone="A", rate=85), feature(east, zone="B", rate=None)])
    write_box(tmp_path / "east.geojson", 0, 0, 210, 250)
    good = build_plan(tmp_path, text + overlay("east.geojson", rate='"50 kg/ha"', why='"east"'), capsys)
    assert (good.code, zones(good)["east"]) == (0, (50, 50))
    bad = build_plan(tmp_path, text + overlay("east.geojson", factor=0.5, why='"east"'), capsys, "--force")
    assert (bad.code, len(bad.named("rate-missing"))) == (1, 1)


def test_small_ground_of_an_overlay_is_never_joined_away(tmp_path: Path, capsys: Capture) -> None:
    """A check strip of 3 m x 20 m stays, though parts under 400 m2 join a neighbour; it is told in a note."""
    write_box(tmp_path / "strip.geojson", WEST_M + 20, 100, WEST_M + 23, 120)
    out = built(tmp_path, capsys, overlay("strip.geojson", rate='"0 kg/ha"', why='"check strip"'), top="")
    assert zones(out)["check strip"] == (0, 0)
    small = built(tmp_path, capsys, overlay("strip.geojson", rate='"40 kg/ha"', why='"check strip"'), top="")
    small = build_plan(tmp_path, (tmp_path / "plan.toml").read_text(), capsys, "--force")
    assert zones(small)["check strip"] == (40, 40)
    (note,) = small.named("tiny-part")
    assert note["severity"] == "note"
    assert "check strip" in note["message"]


# --- bad input


def test_an_overlay_outside_the_field_is_told(tmp_path: Path, capsys: Capture) -> None:
    write_box(tmp_path / "far.geojson", 600, 0, 700, 100)
    out = built(tmp_path, capsys, overlay("far.geojson", factor=0.5, why='"far"'))
    assert out.code == 0
    (finding,) = out.named("overlay-outside")
    assert finding["severity"] == "caution"
    assert set(zones(out)) == {"A", "B", "C"}


def test_laps_that_swallow_a_narrow_field_are_told(tmp_path: Path, capsys: Capture) -> None:
    """250 m are less than twice eleven laps of 12 m: all of the field is headland."""
    out = built(tmp_path, capsys, overlay("headland 11 laps", factor=0.5), rest=MACHINE)
    (finding,) = out.named("overlay-swallows")
    assert finding["severity"] == "caution"
    assert area_of(out, "headland 11 laps") == pytest.approx(FIELD_HA * HA, rel=1e-6)


@pytest.mark.parametrize(
    ("table", "words"),
    [
        pytest.param(overlay("headland 2 laps", factor=0.5), "the machine has no width", id="no width"),
        pytest.param(overlay("edge 20", factor=0.5), "has no unit", id="no unit"),
        pytest.param(overlay("edge -5 m", factor=0.5), "has no width", id="no distance"),
        pytest.param(overlay("headland two laps", factor=0.5), "no number of laps", id="words"),
        pytest.param(overlay("headland 0 laps", factor=0.5), "no number of laps", id="none"),
        pytest.param(overlay("edge 20 m"), "none of rate, factor and add", id="no change"),
        pytest.param(overlay("edge 20 m", factor=0.5, add='"1 kg/ha"'), "factor and add", id="two changes"),
        pytest.param(overlay("edge 20 m", factor=-1), "factor", id="a factor below 0"),
        pytest.param(overlay("edge 20 m", rate='"12 L/ha"'), "overlay[0].rate", id="another kind of rate"),
        pytest.param(overlay("edge 9 m", factor=1, products='["Granlar"]'), 'Did you mean "Granular"', id="no product"),
        pytest.param(overlay("nowhere.gpkg", factor=0.5), "nowhere.gpkg", id="no file"),
        pytest.param(overlay("edge 20 m", factor=0.5, layer='"x"'), "about a file", id="a layer of no file"),
    ],
)  # fmt: skip
def test_an_overlay_that_can_not_be_meant_is_refused(table: str, words: str, tmp_path: Path, capsys: Capture) -> None:
    """One clear error with its key, and nothing written."""
    out = built(tmp_path, capsys, table)
    assert out.code == 2
    assert words in out.text, out.text
    assert not (tmp_path / "plan-bundle").exists()


# --- a part of the field


def part(folder: Path, x0: float, x1: float) -> str:
    write_box(folder / "part.geojson", x0, -50, x1, 300)
    return "part.geojson"


def with_part(text: str) -> str:
    return text.replace("season = 2027\n", 'season = 2027\npart = "part.geojson"\n')


def test_only_the_part_is_treated(tmp_path: Path, capsys: Capture) -> None:
    """Half of the field: the ledger shows part and whole, and the rest is written at rate 0."""
    part(tmp_path, WEST_M - 50, 0)
    out = build_plan(tmp_path, with_part(bench(tmp_path, top=KEEP_ALL)), capsys)
    field = out.said["field"]
    assert field["boundary_area_m2"] == pytest.approx(FIELD_HA * HA, rel=1e-6)
    assert field["outside_the_part_m2"] == pytest.approx(FIELD_HA * HA / 2, rel=1e-6)
    assert field["geodesic_area_m2"] == pytest.approx(FIELD_HA * HA / 2, rel=1e-6)
    assert field["keep_out_area_m2"] == 0
    assert sum(out.hectares().values()) == pytest.approx(FIELD_HA / 2, rel=1e-6)
    written = shapely.from_geojson(out.file("geojson").read_text(encoding="utf-8"))
    assert len(shapely.get_parts(written)) >= 2


def test_keep_outs_and_the_rest_are_told_apart(tmp_path: Path, capsys: Capture) -> None:
    """A hut within the part is a keep-out; one beside it is within the rest."""
    part(tmp_path, WEST_M - 50, 0)
    write_box(tmp_path / "huts.geojson", -20, 100, 20, 120)
    text = with_part(bench(tmp_path, rest=keep_out("huts.geojson"), top=KEEP_ALL))
    field = build_plan(tmp_path, text, capsys).said["field"]
    assert field["outside_the_part_m2"] == pytest.approx(FIELD_HA * HA / 2, rel=1e-6)
    assert field["keep_out_area_m2"] == pytest.approx(400, rel=1e-6)
    assert field["geodesic_area_m2"] == pytest.approx(FIELD_HA * HA / 2 - 400, rel=1e-6)


def test_a_part_that_covers_nothing_stops(tmp_path: Path, capsys: Capture) -> None:
    part(tmp_path, 600, 700)
    out = build_plan(tmp_path, with_part(bench(tmp_path)), capsys)
    assert out.code == 1
    (finding,) = out.named("part-empty")
    assert finding["severity"] == "stop"


def test_a_part_that_is_the_whole_field_changes_nothing(tmp_path: Path, capsys: Capture) -> None:
    part(tmp_path, WEST_M - 50, EAST_M + 50)
    whole = build_plan(tmp_path, bench(tmp_path), capsys, "--out", str(tmp_path / "a"))
    parted = build_plan(tmp_path, with_part(bench(tmp_path)), capsys, "--out", str(tmp_path / "b"))
    assert parted.said["products"] == whole.said["products"]
    assert parted.said["field"] == whole.said["field"]


# --- several zone layers

LAYERS = """
[zones.soil]
from = "zones.geojson"
name = "zone"

[zones.yield]
from = "yield.geojson"
name = "class"
"""
RATES = """
[[rate]]
product = "Granular"
zones = "soil"
by = "column"
column = "rate"
unit = "kg/ha"

[[rate]]
product = "Second"
zones = "yield"
by = "table"
table = { low = "10 kg/ha", high = "30 kg/ha" }
"""
SECOND_PRODUCT = SECOND[: SECOND.index("[[rate]]")]


def layered(folder: Path, *, rates: str = RATES, receiver: str = "") -> str:
    """Return a plan with soil zones for one product and yield classes, north and south, for the other."""
    text = bench(folder, rates=" ", rest="", top=KEEP_ALL)
    write_geojson(
        folder / "yield.geojson",
        [
            feature(polygon(rectangle(WEST_M, y, EAST_M, y + 125)), **{"class": name})
            for name, y in (("low", 0), ("high", 125))
        ],
    )
    head = text[: text.index("[zones]")]
    return head + SECOND_PRODUCT + LAYERS + rates + receiver


def test_each_product_goes_by_its_own_zones(tmp_path: Path, capsys: Capture) -> None:
    """Soil A, B, C for one, yield classes for the other: each ledger has its own zones and the whole field."""
    out = build_plan(tmp_path, layered(tmp_path), capsys)
    assert out.hectares(0) == pytest.approx({"A": 4.5, "B": 3, "C": 3}, rel=1e-6)
    assert out.hectares(1) == pytest.approx({"low": 5.25, "high": 5.25}, rel=1e-6)
    assert out.given(1) == {"low": 10, "high": 30}


def test_one_file_a_product_keeps_each_products_own_shapes(tmp_path: Path, capsys: Capture) -> None:
    """Three polygons of soil and two of yield: the other layer's borders cut nothing up."""
    build_plan(tmp_path, layered(tmp_path), capsys)
    counts = {}
    for path in sorted((tmp_path / "plan-bundle" / "machine").glob("*.geojson")):
        shapes = shapely.get_parts(shapely.from_geojson(path.read_text(encoding="utf-8")))
        counts[path.stem.split("_")[2]] = len(shapes)
    assert sorted(counts.values()) == [2, 3]


def test_one_file_with_a_column_a_product_uses_the_common_cut(tmp_path: Path, capsys: Capture) -> None:
    """Three soils times two classes are six polygons; the ledgers are the same as with a file each."""
    common = layered(tmp_path, receiver='\n[receiver]\nfiles = "one column a product"\n')
    out = build_plan(tmp_path, common, capsys)
    shapes = shapely.get_parts(shapely.from_geojson(out.file("geojson").read_text(encoding="utf-8")))
    assert len(shapes) == 6
    assert out.hectares(0) == pytest.approx({"A": 4.5, "B": 3, "C": 3}, rel=1e-6)
    assert out.hectares(1) == pytest.approx({"low": 5.25, "high": 5.25}, rel=1e-6)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        pytest.param(('zones = "soil"', ""), "which of the zone layers", id="not said"),
        pytest.param(('zones = "soil"', 'zones = "siol"'), 'Did you mean "soil"', id="misspelt"),
        pytest.param(('from = "yield.geojson"', 'from = "yeild.geojson"'), "zones.yield.from", id="no such file"),
        pytest.param(('name = "class"', 'name = "klass"'), "zones.yield.name", id="no such field"),
        pytest.param(('name = "class"', 'nmae = "class"'), "zones.yield.nmae", id="no such key"),
    ],
)
def test_layers_that_do_not_hang_together_are_refused(
    change: tuple[str, str], words: str, tmp_path: Path, capsys: Capture
) -> None:
    """With the key where it stands."""
    out = build_plan(tmp_path, layered(tmp_path).replace(*change), capsys)
    assert out.code == 2
    assert words in out.text, out.text


def test_a_single_layer_has_no_name(tmp_path: Path, capsys: Capture) -> None:
    text = bench(tmp_path).replace('by = "column"', 'zones = "soil"\nby = "column"')
    out = build_plan(tmp_path, text, capsys)
    assert out.code == 2
    assert "one [zones] table is for all" in out.text


def test_a_gap_that_an_overlay_rates_whole_is_none(tmp_path: Path, capsys: Capture) -> None:
    """Nothing falls to the default rate there; where the overlay is about another product, it does."""
    text = bench(tmp_path, top=KEEP_ALL, rest=SECOND)
    write_geojson(tmp_path / "zones.geojson", [feature(polygon(rectangle(WEST_M, 0, 0, 250)), zone="A", rate=85)])
    write_box(tmp_path / "east.geojson", 0, 0, EAST_M, 250)
    east = overlay("east.geojson", rate='"50 kg/ha"', why='"east"')
    assert build_plan(tmp_path, text + east, capsys).named("gap") == []
    other = overlay("east.geojson", rate='"50 kg/ha"', why='"east"', products='["Second"]')
    assert len(build_plan(tmp_path, text + other, capsys, "--force").named("gap")) == 1


def test_an_addition_that_leads_below_0_takes_nothing_off_other_ground(tmp_path: Path, capsys: Capture) -> None:
    """85 less 100 is no need: the overlay changes the total by 85 a hectare, not by 100."""
    write_box(tmp_path / "wet.geojson", WEST_M + 20, 50, WEST_M + 60, 150)
    out = built(tmp_path, capsys, overlay("wet.geojson", add='"-100 kg/ha"', why='"wet"'))
    (found,) = out.said["products"][0]["overlays"]
    assert found["amount"] == pytest.approx(-85 * 0.4, rel=1e-6)
    assert out.said["products"][0]["total_wanted"] == pytest.approx(1147.5 - 34, rel=1e-6)


def test_an_overlay_within_a_keep_out_is_told_to_change_nothing(tmp_path: Path, capsys: Capture) -> None:
    """No line of the ledger is for it, and it contradicts nobody there."""
    write_box(tmp_path / "hut.geojson", 0, 100, 40, 140)
    write_box(tmp_path / "small.geojson", 10, 110, 20, 120)
    hut = keep_out("hut.geojson")
    out = built(
        tmp_path, capsys,
        overlay("small.geojson", rate='"60 kg/ha"', why='"a"'), overlay("small.geojson", rate='"70 kg/ha"', why='"b"'),
        rest=hut,
    )  # fmt: skip
    assert [one["severity"] for one in out.named("overlay-outside")] == ["caution", "caution"]
    assert out.named("overlays-contradict") == []


def test_where_a_missing_rate_gets_the_default_an_overlay_starts_from_it(tmp_path: Path, capsys: Capture) -> None:
    """Half of a default of 100 is 50, as on ground without a zone."""
    text = bench(tmp_path, top=KEEP_ALL).replace('step = "5 kg/ha"', 'step = "5 kg/ha"\ndefault = "100 kg/ha"')
    west, east = (polygon(rectangle(x, 0, x + 210, 250)) for x in (-210, 0))
    write_geojson(tmp_path / "zones.geojson", [feature(west, zone="A", rate=85), feature(east, zone="B", rate=None)])
    write_box(tmp_path / "wet.geojson", 50, 50, 90, 150)
    half = overlay("wet.geojson", factor=0.5, why='"wet"')
    out = build_plan(tmp_path, text.replace('by = "column"', 'by = "column"\nno_data = "default"') + half, capsys)
    assert zones(out)["wet: B"] == (50, 50)
    assert zones(out)["B"][1] == 100


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        pytest.param({"rate": '"-5 kg/ha"'}, "is below 0", id="a rate below 0"),
        pytest.param({"factor": "1e300"}, "factor", id="a factor beyond all"),
    ],
)
def test_a_change_that_nobody_means_is_refused(
    keys: dict[str, str], words: str, tmp_path: Path, capsys: Capture
) -> None:
    out = built(tmp_path, capsys, overlay("edge 20 m", **keys))
    assert out.code == 2
    assert words in out.text


def test_an_overlay_of_lines_is_told_to_hold_no_polygon(tmp_path: Path, capsys: Capture) -> None:
    write_line(tmp_path / "line.geojson", [(0, 0), (50, 50)])
    out = built(tmp_path, capsys, overlay("line.geojson", factor=0.5))
    (finding,) = out.named("overlay-without-polygons")
    assert "line.geojson" in finding["message"]


def test_a_speck_in_a_keep_out_of_one_product_keeps_the_overlay_for_the_other() -> None:
    """A sliver holds its keep-outs and takes the overlays of the neighbour that takes it."""
    shapes = np.array([shapely.box(0, 0, 10, 10), shapely.box(10, 0, 10.01, 10)], dtype=object)
    made = Cut(shapes=shapes, covers=((0,), ()), marks=((2,), (1,)))
    assert settle_slivers(made, firm=2).marks == ((2,), (1, 2))
    assert settle_slivers(made).marks == ((2,), (1,))
