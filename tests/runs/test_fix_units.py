"""Mended maps whose rates are in another unit than the product's, or that hold rates of several products."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from support_cases import HEIGHT_M, feature, polygon, rectangle, write_geojson
from support_checks import library, plan_for, strips
from support_fields import SPREADER, keep_out, write_box

from vrx.cli.main import main
from vrx.errors import OutputError
from vrx.inputs.read import read_layer
from vrx.model.fixed import Fixed
from vrx.runs.fix import check_and_fix

# Pound, foot and mile are exact by definition (NIST SP 811, appendix B): 1 lb/ac in kg/ha.
LB_AC = Fraction(45359237, 100_000_000) / (Fraction(3048, 10_000) ** 2 * 5280**2 / 640 / 10_000)

OTHER = SPREADER.replace("Granular", "Second")


def fixed(path: Path, out: str = "mended.geojson", **options: Any) -> Fixed:
    return check_and_fix([path], path.parent / out, **options)[1]


def cells(found: Fixed, name: str) -> list[float]:
    return [float(str(cell)) for cell in read_layer(found.path).columns[name].cells]


def overlapping(folder: Path, **columns: list[float]) -> Path:
    """Write two strips of one rate, the first 15 m into the second: 0.375 ha."""
    edges = [(-210.0, 15.0), (0.0, 210.0)]
    features = [
        feature(
            polygon(rectangle(left, 0.0, right, HEIGHT_M)),
            zone="AB"[at],
            rate=100,
            **{name: each[at] for name, each in columns.items()},
        )
        for at, (left, right) in enumerate(edges)
    ]
    return write_geojson(folder / "map.geojson", features)


def test_rates_in_steps_are_written_in_the_unit_of_the_steps(tmp_path: Path) -> None:
    """76.5 lb/ac is 85.74 kg/ha, so 85; 89.2 lb/ac is 99.98, so 100: each told once, in both units, with its amount."""
    assert [float(rate * LB_AC) for rate in (Fraction(153, 2), Fraction(446, 5))] == pytest.approx(
        [85.745, 99.980], abs=5e-4
    )
    found = fixed(strips(tmp_path, [76.5, 89.2]), product=library(tmp_path), unit="lb/ac", rates=True)
    assert cells(found, "rate") == [85, 100]
    # On 5.25 ha each.
    less, more = (
        float((to - was * LB_AC) * Fraction(21, 4)) for was, to in ((Fraction(153, 2), 85), (Fraction(446, 5), 100))
    )
    assert (less, more) == pytest.approx((-3.907, 0.1104), abs=0.01)
    told = [one for one in found.changes if "becomes" in one]
    assert len(told) == 2
    assert any(
        "Rate 76.5 lb/ac becomes 85 kg/ha in A (record 1), on 5.2500 ha" in one and ": -3.9" in one for one in told
    )
    assert any(
        "Rate 89.2 lb/ac becomes 100 kg/ha in B (record 2), on 5.2500 ha" in one and ": +0.1" in one for one in told
    )
    assert any("in kg/ha now" in one and "they were in lb/ac" in one for one in found.changes)
    assert (found.check.on.the_rates.unit_name, found.check.verdict) == ("kg/ha", "clear")
    again = fixed(found.path, "two.geojson", product=library(tmp_path), unit="kg/ha", rates=True)
    assert again.changes == ()


def test_a_rate_of_another_unit_that_is_a_step_stays_that_step(tmp_path: Path) -> None:
    """Where rounding is down, 89.2 lb/ac (99.98 kg/ha) is the 100 that it was rounded from, and never 95."""
    down = SPREADER.replace("step =", 'rounding = "down"\nstep =')
    found = fixed(strips(tmp_path, [89.2, 89.2]), product=library(tmp_path, down), unit="lb/ac", rates=True)
    assert cells(found, "rate") == [100, 100]


def test_a_name_never_tells_a_unit_that_the_numbers_are_not_in(tmp_path: Path) -> None:
    """A column rate_lb_ac that holds kg/ha gets another name; with its rates as they are it keeps both."""
    path = strips(tmp_path, [76.5, 89.2], column="rate_lb_ac")
    kept = fixed(path, "kept.geojson", product=library(tmp_path))
    assert cells(kept, "rate_lb_ac") == [76.5, 89.2]
    assert (kept.check.on.the_rates.unit_name, kept.changes) == ("lb/ac", ())
    found = fixed(path, product=library(tmp_path), rates=True)
    assert "rate_lb_ac" not in read_layer(found.path).columns
    assert cells(found, "RATE") == [85, 100]
    assert any("rate_lb_ac as RATE" in one for one in found.changes)
    assert (found.check.on.the_rates.unit_name, found.check.verdict) == ("kg/ha", "clear")


def test_a_unit_that_a_shortened_name_tells_no_more_is_still_known_to_the_check(tmp_path: Path) -> None:
    """A Shapefile can't hold the name that told lb/ac: the mended map is checked in that unit all the same."""
    path = strips(tmp_path, [80, 90], column="rate of nitrogen lb/ac")
    found = fixed(path, "mended.shp", product=library(tmp_path))
    assert len(found.check.on.the_rates.column) <= 10
    assert found.check.on.the_rates.unit_name == "lb/ac"


@pytest.mark.parametrize(
    ("columns", "divided"),
    [
        pytest.param({"Second": [40, 40]}, True, id="the other product has one rate too"),
        pytest.param({"Second": [40, 60]}, False, id="the other product has two"),
        pytest.param({"rate_b": [40, 60]}, False, id="a column that says rate, of nobody's product"),
        pytest.param({"om_pct": [1.5, 2.5]}, True, id="a column of something else"),
    ],
)
def test_ground_is_divided_only_where_all_rates_agree(
    tmp_path: Path, columns: dict[str, list[float]], divided: bool
) -> None:
    """Two shapes with one rate of this product and two of the other: giving the ground to one would choose for that."""
    path = overlapping(tmp_path, **columns)
    plan = plan_for(tmp_path, products=SPREADER + OTHER, rates=("Granular", "Second"))
    found = fixed(path, plan=plan, product="Granular", column="rate", unit="kg/ha")
    assert any("each on 0.3750 ha" in one for one in found.changes) == divided
    assert any("overlap, on 0.3750 ha" in one for one in found.left) != divided
    assert bool(found.check.on.the_shapes.overlaps) != divided


def test_capitals_make_no_other_file(tmp_path: Path) -> None:
    """MAP.geojson is map.geojson on a stick: refused on every system, whatever --force says."""
    path = strips(tmp_path, [100, 120])
    before = path.read_bytes()
    for name in ("MAP.geojson", "Map.GeoJSON"):
        with pytest.raises(OutputError, match="never mended in place"):
            fixed(path, name, unit="kg/ha", force=True)
    assert [one.name for one in tmp_path.iterdir()] == ["map.geojson"]
    assert path.read_bytes() == before


def test_the_page_of_a_mended_map_names_both_files(tmp_path: Path) -> None:
    """The page is of the map that may be loaded; it tells from which one it was made, and what was changed."""
    path = overlapping(tmp_path)
    out, page = tmp_path / "mended.geojson", tmp_path / "page.html"
    assert main(["check", str(path), "--unit", "kg/ha", "--fix", str(out), "--report", str(page)]) == 0
    text = page.read_text(encoding="utf-8")
    assert "<h1>mended.geojson</h1>" in text
    assert "map.geojson, which is unchanged: load only one of the two" in text
    assert "that goes to" in text
    assert main(["check", str(path), "--unit", "kg/ha", "--report", str(tmp_path / "other.html")]) == 0
    assert "Mended from" not in (tmp_path / "other.html").read_text(encoding="utf-8")


def test_a_shortened_name_never_tells_another_unit(tmp_path: Path) -> None:
    """Ten characters of rate_lb_N_ac are rate_lb_ac, where nitrogen would be read as product: it is called RATE."""
    found = fixed(strips(tmp_path, [80, 90], column="rate_lb_N_ac"), "mended.shp")
    assert cells(found, "RATE") == [80, 90]
    assert any("rate_lb_N_ac as RATE" in one for one in found.changes)
    assert found.check.on.the_rates.unit_name == "lb N/ac"


def test_a_column_that_a_product_s_name_is_spelled_into_counts_too(tmp_path: Path) -> None:
    """``Second_2`` is the column of Second 2 where the map has one of each product: its two rates keep the overlap."""
    path = overlapping(tmp_path, Granular=[100, 100], Second_2=[40, 60])
    plan = plan_for(tmp_path, products=SPREADER + OTHER.replace("Second", "Second 2"), rates=("Granular", "Second 2"))
    found = fixed(path, plan=plan, product="Granular", column="Granular", unit="kg/ha")
    assert found.changes == ()
    assert "overlap, on 0.3750 ha" in found.left[0]


@pytest.mark.parametrize(("rate", "left"), [(0, ()), (40, ("0.0900 ha (0.222 ac) of the map lies in keep-outs.",))])
def test_a_keep_out_at_rate_0_is_nothing_that_is_left(rate: int, left: tuple[str, ...], tmp_path: Path) -> None:
    """A map may well cover a keep-out, with 0: only what it gives there is told as left."""
    plan = plan_for(tmp_path)
    write_box(tmp_path / "hut.geojson", 0.0, 100.0, 30.0, 130.0)
    plan.write_text(plan.read_text(encoding="utf-8") + keep_out("hut.geojson"), encoding="utf-8")
    hut = rectangle(0.0, 100.0, 30.0, 130.0)
    around = polygon(rectangle(-210.0, 0.0, 210.0, HEIGHT_M), hut)
    features = [feature(around, zone="A", rate=100), feature(polygon(hut), zone="hut", rate=rate)]
    found = fixed(write_geojson(tmp_path / "map.geojson", features), plan=plan, unit="kg/ha", column="rate")
    assert (found.changes, found.left) == ((), left)
