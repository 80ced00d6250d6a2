"""Files that go wrong, as the generator writes them: what the reader makes of each."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import shapely
import support_cases as cases

from vrx.errors import CrsError, InputError
from vrx.geo.crs import move_shapes
from vrx.inputs.cells import read_numbers
from vrx.inputs.csv_table import decimal_of
from vrx.inputs.read import read_layer, read_layers
from vrx.model.layer import Layer


def areas(layer: Layer, name: str) -> dict[str, float]:
    zones = layer.columns[name].cells
    return {str(zone): cases.area_ha(shape, layer.crs) for zone, shape in zip(zones, layer.shapes, strict=True)}


def said(layer: Layer) -> list[tuple[str, str]]:
    return [(finding.id, finding.severity) for finding in layer.findings]


@pytest.mark.parametrize(
    ("write", "zone", "findings"),
    [
        pytest.param(cases.write_plain, "ZONE", [], id="nothing wrong"),
        pytest.param(cases.write_state_plane_feet, "ZONE", [], id="US survey feet are silent"),
        pytest.param(cases.write_web_mercator, "zone", [], id="web mercator is silent"),
        pytest.param(cases.write_nested_zip, "ZONE", [], id="zip with ghosts is silent"),
        pytest.param(cases.write_odd_prj, "ZONE", [("crs-unknown", "note")], id="datum of an unknown .prj is used"),
        pytest.param(cases.write_legacy_crs, "zone", [("crs-member", "note")], id="old crs member"),
        pytest.param(cases.write_no_shx, "ZONE", [("missing-part", "note")], id="no .shx"),
        pytest.param(cases.write_deleted_record, "ZONE", [("deleted-record", "note")], id="deleted record"),
        pytest.param(cases.write_nan, "zone", [], id="NaN among the rates"),
    ],
)
def test_the_zones_have_their_areas_and_the_notes_that_belong_to_them(
    tmp_path: Path, write: Callable[[Path], Path], zone: str, findings: list[tuple[str, str]]
) -> None:
    """Each file gives zones A, B and C with the areas that they were drawn with, to 1 part in a million."""
    layer = read_layer(write(tmp_path))
    assert areas(layer, zone) == pytest.approx(cases.AREA_HA, rel=1e-6)
    assert said(layer) == findings


@pytest.mark.parametrize(
    ("write", "words"),
    [
        pytest.param(cases.write_odd_prj, ("datum North American Datum 1983", ".prj"), id="odd .prj"),
        pytest.param(cases.write_legacy_crs, ("crs", "EPSG:32614"), id="old crs member"),
        pytest.param(cases.write_no_shx, (".shx",), id="no .shx"),
        pytest.param(cases.write_deleted_record, ("1 deleted record ignored",), id="deleted record"),
        pytest.param(cases.write_cp1252, ("encoding", "1252"), id="cp1252"),
        pytest.param(cases.write_hole_wound_wrong, ("hole", "record 1"), id="hole wound like its shell"),
        pytest.param(cases.write_heights_and_parts, ("Z", "heights in the file (Z)"), id="heights"),
    ],
)
def test_a_note_says_what_a_person_looks_for(
    tmp_path: Path, write: Callable[[Path], Path], words: tuple[str, ...]
) -> None:
    """One note comes with each file, and it names the thing in plain words and the file."""
    path = write(tmp_path)
    (finding,) = read_layer(path).findings
    assert finding.severity == "note"
    assert all(word in finding.message for word in (*words, path.name))


def test_reading_leaves_the_folder_as_it_was(tmp_path: Path) -> None:
    """No file is made, changed or renamed beside the user's."""
    path = cases.write_no_shx(tmp_path)
    before = {one.name: (one.read_bytes(), one.stat().st_mtime_ns) for one in tmp_path.iterdir()}
    read_layer(path)
    assert {one.name: (one.read_bytes(), one.stat().st_mtime_ns) for one in tmp_path.iterdir()} == before


def test_a_deleted_record_keeps_its_number(tmp_path: Path) -> None:
    """The records left keep the numbers that they have in the file."""
    layer = read_layer(cases.write_deleted_record(tmp_path))
    assert layer.records.tolist() == [1, 3, 4]
    assert layer.findings[0].features == (2,)
    assert layer.columns["RATE"].cells == ("85.00", "115.00", "140.00")


def test_a_missing_prj_is_refused_with_three_ways_out(tmp_path: Path) -> None:
    """The error says what is missing, what the coordinates look like, and what to do."""
    path = cases.write_no_prj(tmp_path)
    with pytest.raises(CrsError) as caught:
        read_layer(path)
    error = caught.value
    assert all(word in error.problem for word in ("CRS", ".prj", "metres", "latitude 40.1 in a northern zone"))
    assert all(word in error.remedy for word in ('crs = "EPSG:..."', ".prj", "reproject"))
    assert error.where == "bench.shp"


def test_a_missing_prj_is_settled_by_the_plan(tmp_path: Path) -> None:
    """With crs given the same file is read without a word."""
    layer = read_layer(cases.write_no_prj(tmp_path), crs="EPSG:32614")
    assert layer.crs == "EPSG:32614"
    assert layer.findings == ()
    assert areas(layer, "ZONE") == pytest.approx(cases.AREA_HA, rel=1e-6)


def test_swapped_coordinates_are_named(tmp_path: Path) -> None:
    """Latitude first in GeoJSON is refused, with the impossible latitude."""
    with pytest.raises(CrsError, match=r"latitude of -96\.00\d+ is impossible; x and y look swapped"):
        read_layer(cases.write_swapped(tmp_path))


def test_halves_in_two_utm_zones_meet(tmp_path: Path) -> None:
    """Two files in their own zones come into one CRS, and the halves meet along the shared edge within 1 mm."""
    layer = read_layers(cases.write_two_utm_zones(tmp_path))
    west, east = move_shapes(layer.shapes, layer.crs, cases.FRAME)
    assert layer.crs == "EPSG:32614"
    assert shapely.distance(west, east) < 1e-3
    assert west.intersection(east).area < 0.25
    # an edge that is straight in one CRS bows by a fraction of a millimetre in another
    assert areas(layer, "ZONE") == pytest.approx({"West": 5.25, "East": 5.25}, rel=5e-6)
    (finding,) = layer.findings
    assert (finding.id, finding.severity) == ("crs-mixed", "note")
    assert all(word in finding.message for word in ("CRS", "EPSG:32614", "EPSG:32615"))


def test_bad_cells_are_told_apart(tmp_path: Path) -> None:
    """A true zero is a number; a blank, a code and words are not, each for its own reason."""
    numbers = read_numbers(read_layer(cases.write_bad_cells(tmp_path)).columns["RATE"])
    assert numbers.values[[0, 7]].tolist() == [0.0, 85.0]
    assert np.isnan(numbers.values[1:7]).all()
    assert [(bad.index, bad.text, bad.kind) for bad in numbers.bad] == [
        (1, "", "empty"),
        (2, "", "empty"),
        (3, "-9999.00", "no-data-code"),
        (4, "NULL", "not-a-number"),
        (5, "1.#QNAN", "not-a-number"),
        (6, "12,5", "not-a-number"),
    ]


def test_rates_typed_as_text_are_read_strictly(tmp_path: Path) -> None:
    """Only a clean number is one; a decimal comma counts where it is declared, and 1,250 never."""
    column = read_layer(cases.write_text_rates(tmp_path)).columns["RATE"]
    kinds = [bad.kind for bad in read_numbers(column).bad]
    assert column.kind == "text"
    assert kinds == ["not-a-number", "not-a-number", "not-a-number", "two-readings"]
    assert read_numbers(column, decimal=",").values[0] == 12.5
    assert read_numbers(column, decimal=",").bad[-1].kind == "two-readings"


def test_names_in_windows_1252_are_read(tmp_path: Path) -> None:
    """Dashes, quotes and accents come out as they were typed."""
    layer = read_layer(cases.write_cp1252(tmp_path))
    assert layer.columns["ZONE"].cells == ("Señal – norte", "Fossé d’eau", "Hügel")


def test_null_and_empty_shapes_are_none(tmp_path: Path) -> None:
    """A record without a shape stays, with its cells and None for its shape."""
    layer = read_layer(cases.write_null_and_empty(tmp_path))
    assert [shape is None for shape in layer.shapes] == [False, False, True, True, False]
    assert layer.columns["ZONE"].cells[2:4] == ("NOWHERE1", "NOWHERE2")


def test_a_hole_wound_like_its_shell_is_a_hole(tmp_path: Path) -> None:
    """Where a ring lies decides, not how it is wound: 10.5 ha less 0.2 ha."""
    layer = read_layer(cases.write_hole_wound_wrong(tmp_path))
    assert layer.shapes[0].is_valid
    assert areas(layer, "ZONE")["A"] == pytest.approx(10.5 - cases.HOLE_HA, rel=1e-6)
    assert layer.findings[0].features == (1,)


def test_heights_are_left_out_and_parts_stay_one_zone(tmp_path: Path) -> None:
    """Shapes are flat, and zone C has its two parts in one record."""
    layer = read_layer(cases.write_heights_and_parts(tmp_path))
    assert not shapely.has_z(layer.shapes).any()
    assert [shape.geom_type for shape in layer.shapes] == ["Polygon", "Polygon", "MultiPolygon"]
    assert areas(layer, "zone") == pytest.approx({"A": 4.5, "B": 3.0, "C": 2.45}, rel=1e-6)


def test_shapes_are_not_repaired_here(tmp_path: Path) -> None:
    """A bow-tie and a spur come as they were drawn, for the repair to report."""
    tie, spur = read_layer(cases.write_bowtie(tmp_path)), read_layer(cases.write_spur(tmp_path))
    assert shapely.is_valid(tie.shapes).tolist() == [False, True, True]
    assert shapely.is_valid(spur.shapes).tolist() == [True, True, False]
    assert tie.findings == spur.findings == ()


def test_overlaps_and_gaps_have_the_size_they_were_drawn_with(tmp_path: Path) -> None:
    """The generator's overlap, gap and sliver are what its docstrings say (in hectares)."""
    zones, boundary = (read_layer(path) for path in cases.write_overlap(tmp_path))
    local = move_shapes(zones.shapes, zones.crs, cases.FRAME)
    assert local[0].intersection(local[1]).area / 1e4 == pytest.approx(0.375, rel=1e-6)
    assert cases.area_ha(boundary.shapes[0], boundary.crs) == pytest.approx(10.5, rel=1e-6)
    gappy = read_layer(cases.write_gap_and_sliver(tmp_path)[0])
    assert sum(areas(gappy, "zone").values()) == pytest.approx(10.5 - 0.25 - 0.005, rel=1e-6)


def test_bare_nan_stays_in_sight(tmp_path: Path) -> None:
    """NaN and Infinity are cells of a number column that hold no number."""
    column = read_layer(cases.write_nan(tmp_path)).columns["rate"]
    assert column.kind == "number"
    assert column.cells == (85, "NaN", "Infinity")
    assert [(bad.text, bad.kind) for bad in read_numbers(column).bad] == [
        ("NaN", "not-a-number"),
        ("Infinity", "not-a-number"),
    ]


def test_a_table_of_points_with_decimal_commas(tmp_path: Path) -> None:
    """Eight points, 50 m apart in a line, and notes for all that differs from a plain table."""
    layer = read_layer(cases.write_semicolon_csv(tmp_path))
    local = shapely.get_coordinates(move_shapes(layer.shapes, layer.crs, cases.FRAME))
    assert local == pytest.approx(np.column_stack([np.arange(-200, 200, 50), np.full(8, 125)]), abs=0.1)
    assert read_numbers(layer.columns["Clay"], decimal=decimal_of(layer)).values.mean() == 18.875
    assert {finding.id for finding in layer.findings} == {"units-row", "separator", "decimal-comma"}
    assert "decimal comma" in " ".join(finding.message for finding in layer.findings)
    assert "units" in " ".join(finding.message for finding in layer.findings)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes with a name")
def test_a_pipe_is_refused_before_it_is_opened(tmp_path: Path) -> None:
    """A pipe would wait for ever; it is refused by its kind."""
    pipe = tmp_path / "zones.shp"
    os.mkfifo(pipe)
    with pytest.raises(InputError, match="neither a file nor a folder"):
        read_layer(pipe)
