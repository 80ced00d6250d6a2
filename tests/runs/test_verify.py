"""Reading back: whatever happens to a file between writing and reading it, it is noticed."""

from __future__ import annotations

import json
import sqlite3
import struct
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
import shapely
from support_fields import bench
from support_plans import build_plan
from support_products import granular
from support_sheets import HOLED, SQUARES, sheet_of
from support_zone_maps import plan_of

from vrx.errors import OutputError
from vrx.exports.formats import WRITERS, write_sheet
from vrx.geo.area import true_areas
from vrx.geo.crs import frame_at, move_shapes
from vrx.model.receiver import Format
from vrx.model.sheet import Sheet, Unrounded
from vrx.runs import bundle
from vrx.runs.verify import verify_file, verify_sheet

FRAME = frame_at(20.5025, -33.2495)
FORMATS = tuple(WRITERS)
CENTIMETRE_DEGREES = 0.01 / 111_000
# The product of the sheets of tests: a step is their last digit.
PLAN = plan_of(granular(name="Rate", min="0.1 kg/ha", max="900 kg/ha", step="0.1 kg/ha"))


def unrounded(sheet: Sheet) -> Unrounded:
    local = move_shapes(sheet.shapes, sheet.crs, FRAME.crs)
    return Unrounded(
        area_m2=true_areas(local, FRAME), perimeter_m=shapely.length(local), source=np.arange(len(sheet.shapes))
    )


def verify(path: Path, sheet: Sheet) -> None:
    """Verify a file against the sheet that it was meant to be."""
    verify_file(path, sheet, unrounded(sheet), FRAME, PLAN)


def altered(sheet: Sheet, change: Callable[[Any], Any]) -> Sheet:
    shapes = sheet.shapes.copy()
    found = change(shapes)
    return replace(sheet, shapes=shapes if found is None else found)


def shifted(at: int | None, by: float) -> Callable[[Any], Any]:
    """Move one polygon, or all, to the east."""

    def change(shapes: Any) -> None:
        for one in range(len(shapes)) if at is None else [at]:
            shapes[one] = shapely.transform(shapes[one], lambda points: np.round(points + np.array([by, 0.0]), 8))

    return change


def widened(shapes: Any) -> None:
    """The first polygon reaches half way into the second."""
    shapes[0] = shapely.box(20.5, -33.25, 20.5015, -33.249)


def one_vertex(shapes: Any) -> None:
    points = np.array(shapes[4].exterior.coords)
    points[points[:, 0].argmax()] += (3 * CENTIMETRE_DEGREES, 0)
    points[-1] = points[0]
    shapes[4] = shapely.Polygon(np.round(points, 8))


def swapped(shapes: Any) -> None:
    shapes[[0, 1]] = shapes[[1, 0]]


def without_the_last(sheet: Sheet) -> Sheet:
    columns = tuple(replace(one, counts=one.counts[:-1], step_numbers=one.step_numbers[:-1]) for one in sheet.columns)
    return replace(sheet, shapes=sheet.shapes[:-1], columns=columns)


def with_rate(sheet: Sheet, at: int, count: int) -> Sheet:
    counts = sheet.columns[0].counts.copy()
    counts[at] = count
    return replace(sheet, columns=(replace(sheet.columns[0], counts=counts),))


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("shapes", [pytest.param(SQUARES, id="squares"), pytest.param((HOLED,), id="a hole")])
def test_what_was_written_passes(form: Format, shapes: Any, tmp_path: Path) -> None:
    """A file that nobody touched is the sheet that it was written from."""
    sheet = sheet_of(shapes)
    verify(write_sheet(sheet, tmp_path, form)[0], sheet)


@pytest.mark.parametrize("code", ["EPSG:32734", "EPSG:2048", "EPSG:4148", "+proj=utm +zone=34 +south +datum=WGS84"])
@pytest.mark.parametrize("form", ["shapefile", "geopackage"])
def test_what_was_written_in_another_crs_passes(code: str, form: Format, tmp_path: Path) -> None:
    """A map in a grid, its .prj or definition included, comes back to its place."""
    decimals = 8 if pyproj.CRS(code).is_geographic else 3
    moved = move_shapes(sheet_of().shapes, "EPSG:4326", code)
    sheet = sheet_of(list(moved), crs=code, coordinate_decimals=decimals)
    verify(write_sheet(sheet, tmp_path, form)[0], sheet)


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize(
    ("tamper", "words"),
    [
        pytest.param(lambda sheet: with_rate(sheet, 2, 0), "came back as", id="a rate is 0"),
        pytest.param(lambda sheet: with_rate(sheet, 0, 186), "came back as", id="a rate is off by its last digit"),
        pytest.param(without_the_last, "5 polygons were written and 4", id="a polygon is gone"),
        pytest.param(lambda sheet: altered(sheet, shifted(0, -CENTIMETRE_DEGREES)), "", id="one moved away 1 cm"),
        pytest.param(lambda sheet: altered(sheet, shifted(4, -CENTIMETRE_DEGREES)), "", id="one moved in 1 cm"),
        pytest.param(lambda sheet: altered(sheet, shifted(None, CENTIMETRE_DEGREES)), "", id="all moved 1 cm"),
        pytest.param(lambda sheet: altered(sheet, shifted(None, 1.0)), "", id="all moved a degree"),
        pytest.param(lambda sheet: altered(sheet, widened), "", id="two overlap"),
        pytest.param(lambda sheet: altered(sheet, one_vertex), "", id="a vertex moved 3 cm"),
        pytest.param(lambda sheet: altered(sheet, swapped), "", id="two polygons changed places"),
    ],
)
def test_tampering_is_noticed(form: Format, tamper: Callable[[Sheet], Sheet], words: str, tmp_path: Path) -> None:
    """A file that holds something else than its sheet is refused, in every format."""
    sheet = sheet_of()
    path = write_sheet(tamper(sheet), tmp_path, form)[0]
    with pytest.raises(OutputError, match="did not come back as it was written") as caught:
        verify(path, sheet)
    assert words in caught.value.problem
    assert path.name in caught.value.problem


def test_a_lone_polygon_moved_by_a_centimetre_is_noticed(tmp_path: Path) -> None:
    """Its area is the same and it has no neighbour to fit to: its place alone tells."""
    sheet = sheet_of([HOLED])
    path = write_sheet(altered(sheet, shifted(0, CENTIMETRE_DEGREES)), tmp_path, "geojson")[0]
    with pytest.raises(OutputError, match="m from where it was meant"):
        verify(path, sheet)


def damage_prj(folder: Path) -> None:
    """Say metres of UTM 34N where degrees were meant: the numbers are the same, the place is not."""
    (path,) = folder.glob("*.prj")
    path.write_text(pyproj.CRS("EPSG:32634").to_wkt("WKT1_ESRI"))


def delete_a_record(folder: Path) -> None:
    (path,) = folder.glob("*.dbf")
    data = bytearray(path.read_bytes())
    head, width = struct.unpack("<HH", data[8:12])
    data[head + width : head + width + 1] = b"*"
    path.write_bytes(data)


def cut_short(folder: Path) -> None:
    (path,) = folder.glob("*.shp")
    path.write_bytes(path.read_bytes()[:-40])


def lose_the_table(folder: Path) -> None:
    next(folder.glob("*.dbf")).unlink()


def rename_the_column(folder: Path) -> None:
    (path,) = folder.glob("*.dbf")
    path.write_bytes(path.read_bytes().replace(b"RATE", b"RITE"))


@pytest.mark.parametrize(
    "damage", [damage_prj, delete_a_record, cut_short, lose_the_table, rename_the_column], ids=lambda one: one.__name__
)
def test_a_damaged_shapefile_is_noticed(damage: Callable[[Path], None], tmp_path: Path) -> None:
    """A wrong .prj, a deleted record, a short file, a lost table, another column."""
    sheet = sheet_of()
    path = write_sheet(sheet, tmp_path, "shapefile")[0]
    damage(tmp_path)
    with pytest.raises(OutputError, match="did not come back"):
        verify(path, sheet)


def test_a_damaged_geojson_is_noticed(tmp_path: Path) -> None:
    """A rate that is null, and a file that ends too early."""
    sheet = sheet_of()
    path = write_sheet(sheet, tmp_path, "geojson")[0]
    whole = path.read_text()
    data = json.loads(whole)
    data["features"][1]["properties"]["RATE"] = None
    for text in (json.dumps(data), whole[:-10]):
        path.write_text(text)
        with pytest.raises(OutputError, match="did not come back"):
            verify(path, sheet)


def test_a_damaged_geopackage_is_noticed(tmp_path: Path) -> None:
    """A row without a shape, and a rate that another program changed."""
    for statement in ("UPDATE {} SET geom = NULL WHERE fid = 2", "UPDATE {} SET RATE = RATE + 0.1 WHERE fid = 3"):
        sheet = sheet_of()
        path = write_sheet(sheet, tmp_path, "geopackage")[0]
        db = sqlite3.connect(path)
        (table,) = db.execute("SELECT table_name FROM gpkg_contents").fetchone()
        for (trigger,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            db.execute(f'DROP TRIGGER "{trigger}"')
        db.execute(statement.format(f'"{table}"'))
        db.commit()
        db.close()
        with pytest.raises(OutputError, match="did not come back"):
            verify(path, sheet)
        path.unlink()


def test_a_sheet_that_lost_ground_to_rounding_is_noticed() -> None:
    """Before a file is written, its rounded polygons are compared with the ground that they stand for."""
    sheet = sheet_of()
    meant = unrounded(sheet)
    verify_sheet(sheet, meant, FRAME)
    meant.area_m2[3] += 1.0
    with pytest.raises(OutputError, match="a polygon of"):
        verify_sheet(sheet, meant, FRAME)
    with pytest.raises(OutputError, match="no longer fit together") as caught:
        verify_sheet(altered(sheet, widened), unrounded(sheet), FRAME)
    # No file was written yet: the disk has nothing to do with it.
    assert "disk" not in str(caught.value)
    assert "came back" not in str(caught.value)
    assert "simplify" in caught.value.remedy


@pytest.mark.parametrize(
    ("side_m", "more_m2", "passes"),
    [
        pytest.param(4000.0, 31.0, True, id="large, within 2e-6 of its 16 km2"),
        pytest.param(4000.0, -33.0, False, id="large, beyond"),
        pytest.param(100.0, -0.39, True, id="small, within a millimetre along its 400 m"),
        pytest.param(100.0, 0.41, False, id="small, beyond"),
    ],
)
def test_an_area_may_differ_by_what_rounding_explains(side_m: float, more_m2: float, passes: bool) -> None:
    """2e-6 of the area or a millimetre along the perimeter, whichever is larger."""
    square = move_shapes(np.array([shapely.box(0, 0, side_m, side_m)], dtype=object), FRAME.crs, "EPSG:4326")
    sheet = sheet_of(list(shapely.transform(square, lambda at: np.round(at, 8))), [185])
    meant = unrounded(sheet)
    meant.area_m2[0] += more_m2
    with nullcontext() if passes else pytest.raises(OutputError, match="a polygon of"):
        verify_sheet(sheet, meant, FRAME)


@pytest.mark.parametrize(
    ("width_m", "passes"),
    [
        pytest.param(0.0009, True, id="narrower than the grid"),
        pytest.param(0.003, False, id="wider: ground is lost"),
    ],
)
@pytest.mark.parametrize("length_m", [20.0, 400.0])
def test_a_needle_that_rounding_flattens_is_no_loss(width_m: float, length_m: float, passes: bool) -> None:
    """What vanishes may have an area of a millimetre along the perimeter that it had, however long it was."""
    meant = unrounded(sheet_of(SQUARES[:2]))
    needle = shapely.Polygon([(0, 0), (length_m, 0), (length_m, 2 * width_m)])
    with_needle = Unrounded(
        area_m2=np.append(meant.area_m2, needle.area),
        perimeter_m=np.append(meant.perimeter_m, needle.length),
        source=meant.source,
    )
    with nullcontext() if passes else pytest.raises(OutputError, match=r"comes out with 0\.000 m2"):
        verify_sheet(sheet_of(SQUARES[:2]), with_needle, FRAME)


def test_a_speck_may_fill_a_cell() -> None:
    """A speck of a tenth of a millimetre that lies across a cell's border comes out as a cell of 1e-8 degrees."""
    cell = sheet_of([shapely.box(20.5, -33.25, 20.50000001, -33.24999999)])
    speck = Unrounded(area_m2=np.array([1e-8]), perimeter_m=np.array([4e-4]), source=np.array([0]))
    verify_sheet(cell, speck, FRAME)


def test_a_build_whose_file_does_not_come_back_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a writer puts down another rate than the sheet's, the build ends with 2 and no bundle."""

    def liar(sheet: Sheet, folder: Path, form: Format) -> list[Path]:
        return write_sheet(with_rate(sheet, 0, int(sheet.columns[0].counts[0]) + 1), folder, form)

    monkeypatch.setattr(bundle, "write_sheet", liar)
    out = build_plan(tmp_path, bench(tmp_path), capsys)
    assert out.code == 2
    assert "did not come back as it was written" in out.text
    assert not list(tmp_path.glob("*bundle*"))
    assert not list(tmp_path.glob(".*"))


@pytest.mark.parametrize(
    ("written", "decimals", "words"),
    [
        pytest.param("112", 0, "", id="100 lb/ac are 112.085 kg/ha, written whole"),
        pytest.param("112.1", 1, "", id="with a decimal"),
        pytest.param("112.2", 1, "a rate of 100 lb/ac came back as", id="off by its last digit"),
        pytest.param("106.5", 1, "a rate of 100 lb/ac came back as", id="the rate of the next step"),
        pytest.param("100", 0, "a rate of 100 lb/ac came back as", id="not converted at all"),
        pytest.param("89.2", 1, "a rate of 100 lb/ac came back as", id="converted the wrong way"),
        pytest.param("112", -1, "do not part two steps", id="tens, where a step is 5.6"),
    ],
)
def test_step_numbers_are_found_in_the_unit_of_the_step(
    written: str, decimals: int, words: str, tmp_path: Path
) -> None:
    """What is read is turned back into the machine's unit: a wrong conversion when writing does not pass."""
    plan = plan_of(granular(name="Rate", min="50 lb/ac", max="200 lb/ac", step="5 lb/ac"), units="us")
    column = replace(
        sheet_of(SQUARES[:1]).columns[0],
        unit="kg/ha",
        counts=np.array([int(float(written) * 10 ** max(decimals, 0))]),
        decimals=max(decimals, 0),
        step_numbers=np.array([20]),
    )
    sheet = replace(sheet_of(SQUARES[:1]), columns=(column,))
    path = write_sheet(sheet, tmp_path, "geojson")[0]
    meant = replace(sheet, columns=(replace(column, decimals=decimals),))
    with pytest.raises(OutputError, match=words) if words else nullcontext():
        verify_file(path, meant, unrounded(sheet), FRAME, plan)
