"""The shared reference cases that concern reading, where they are beside the project."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import support_cases as cases

from vrx.errors import VrxError
from vrx.inputs.cells import read_numbers
from vrx.inputs.csv_table import decimal_of
from vrx.inputs.read import read_layers, read_table
from vrx.model.layer import Layer

GOAL = 1e-4


def load(shared: Path, name: str, part: str = "zones", crs: str = "") -> tuple[Layer, dict[str, Any]]:
    folder = shared / "cases" / name
    case = json.loads((folder / "case.json").read_text(encoding="utf-8"))
    files = case["inputs"][part]
    listed = files if isinstance(files, list) else [files]
    return read_layers([folder / one for one in listed], crs=crs), case["expected"]


def areas(layer: Layer) -> dict[str, float]:
    (name,) = [name for name in layer.columns if name.lower() == "zone"]
    shaped = [at for at, shape in enumerate(layer.shapes) if shape is not None]
    return {str(layer.columns[name].cells[at]): cases.area_ha(layer.shapes[at], layer.crs) for at in shaped}


@pytest.mark.parametrize(
    "name",
    [
        "S02-prj-vendor-wkt",
        "S04-stateplane-usft",
        "S05-web-mercator-area",
        "S06-two-utm-zones",
        "S07-geojson-legacy-crs",
        "S12-dbf-deleted-record",
        "S13-no-shx",
        "S20-null-empty-geometry",
        "S21-z-and-mixed-parts",
        "S22-hole-wound-wrong",
        "S25-zip-nested-uppercase-macosx",
    ],
)
def test_areas_and_messages_are_those_of_the_case(shared: Path, name: str) -> None:
    """Zone areas meet the case's goal, and the notes mention what they should where reading is what notices it."""
    layer, expected = load(shared, name)
    assert areas(layer) == pytest.approx(expected["values"]["area_ha_by_zone"], rel=GOAL)
    messages = " ".join(finding.message for finding in layer.findings)
    if expected["outcome"] in {"repair_silent", "repair_notice"}:
        assert all(word in messages for word in expected["message_should_mention"])
    assert bool(layer.findings) == (expected["outcome"] == "repair_notice")


@pytest.mark.parametrize(
    "name", [pytest.param("S01-shp-no-prj", id="no .prj"), pytest.param("S03-latlon-swapped", id="swapped")]
)
def test_refusals_mention_what_they_should(shared: Path, name: str) -> None:
    """What can't be placed is refused in the words of the case."""
    with pytest.raises(VrxError) as caught:
        load(shared, name)
    folder = shared / "cases" / name
    expected = json.loads((folder / "case.json").read_text(encoding="utf-8"))["expected"]
    assert all(word in str(caught.value) for word in expected["message_should_mention"])


def test_the_plan_settles_a_missing_prj(shared: Path) -> None:
    """With the CRS given, the areas of the case come out."""
    layer, expected = load(shared, "S01-shp-no-prj", crs="EPSG:32615")
    assert areas(layer) == pytest.approx(expected["values"]["area_ha_by_zone_if_user_says_EPSG:32615"], rel=GOAL)


@pytest.mark.parametrize(
    ("name", "column", "kinds", "values"),
    [
        pytest.param(
            "S09-dbf-null-zero-sentinel",
            "RATE",
            ["empty", "empty", "no-data-code"],
            {0: 90.0, 4: 0.0},
            id="nulls, a code and a true zero",
        ),
        pytest.param("S10-dbf-bad-number-text", "RATE", ["not-a-number"] * 4, {4: 120.0}, id="words in numbers"),
        pytest.param("S14-text-rates", "RATE", ["not-a-number"] * 3 + ["two-readings"], {2: 12.5}, id="text rates"),
        pytest.param("S23-geojson-nan", "rate", ["not-a-number"] * 2, {0: 90.0}, id="bare NaN"),
    ],
)
def test_cells_that_hold_no_number_are_counted(
    shared: Path, name: str, column: str, kinds: list[str], values: dict[int, float]
) -> None:
    """Each bad cell has its reason, each good one its value."""
    layer, _ = load(shared, name)
    numbers = read_numbers(layer.columns[column])
    assert [bad.kind for bad in numbers.bad] == kinds
    assert {at: numbers.values[at] for at in values} == values


def test_names_in_windows_1252_join_with_the_table(shared: Path) -> None:
    """The names of the shapefile and those of the CSV in UTF-8 are the same three."""
    layer, expected = load(shared, "S11-cp1252-no-cpg")
    table = read_table(shared / "cases" / "S11-cp1252-no-cpg" / "rates.csv")
    assert list(layer.columns["ZONE"].cells) == expected["values"]["zone_names"]
    assert layer.columns["ZONE"].cells == table.columns["zone"].cells
    assert all(word in layer.findings[0].message for word in expected["message_should_mention"])


def test_points_of_a_semicolon_table(shared: Path) -> None:
    """Twelve points, the first where the case has it, and the mean yield."""
    layer, expected = load(shared, "S24-csv-semicolon-comma", "points")
    values = expected["values"]
    yields = read_numbers(layer.columns["Yield"], decimal=decimal_of(layer)).values
    assert len(layer.shapes) == values["n_points"]
    assert [layer.shapes[0].y, layer.shapes[0].x] == values["first_point_latlon"]
    assert yields.mean() == pytest.approx(values["mean_yield_t_ha"], abs=5e-4)
    messages = " ".join(finding.message for finding in layer.findings)
    assert all(word in messages for word in expected["message_should_mention"])
