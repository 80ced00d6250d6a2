"""The same sheet is the same bytes on another day and in another folder, in every format."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from pathlib import Path

import pytest
from freezegun import freeze_time
from support_clock import clock_library, run_shifted
from support_sheets import HOLED, SQUARES, sheet_of

from vrx.exports.formats import WRITERS, write_sheet
from vrx.model.receiver import Format
from vrx.model.sheet import Sheet

FORMATS: tuple[Format, ...] = tuple(WRITERS)
WRITE = """
import sys, time, json, hashlib
from pathlib import Path
from support_sheets import HOLED, SQUARES, sheet_of
from vrx.exports.formats import WRITERS
paths = [path for write in WRITERS.values() for path in write(sheet_of([*SQUARES, HOLED]), Path(sys.argv[1]))]
print(json.dumps([time.time(), {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in paths}]))
"""


def digests(sheet: Sheet, folder: Path) -> dict[str, str]:
    folder.mkdir(parents=True)
    paths = [path for form in FORMATS for path in write_sheet(sheet, folder, form)]
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in paths}


def test_another_folder_and_another_day_of_pythons_clock(tmp_path: Path) -> None:
    """Two days later, elsewhere, on a path of another length: the same bytes."""
    sheet = sheet_of([*SQUARES, HOLED])
    first = digests(sheet, tmp_path / "a")
    with freeze_time(dt.datetime.now(tz=dt.UTC) + dt.timedelta(days=2)):
        second = digests(sheet, tmp_path / "somewhere" / "else")
    assert len(first) == 5 + 1 + 1
    assert first == second


def test_another_day_of_every_clock(tmp_path: Path) -> None:
    """A process that lives 400 days later, its C libraries too, writes the same bytes."""
    library = clock_library(tmp_path)
    runs = []
    for days in (0, 400):
        folder = tmp_path / f"in {days} days"
        folder.mkdir()
        runs.append(json.loads(run_shifted(library, days, WRITE, str(folder))))
    assert runs[1][0] - runs[0][0] > 399 * 86400
    assert runs[0][1] == runs[1][1]
    assert runs[0][1] == digests(sheet_of([*SQUARES, HOLED]), tmp_path / "here")


def test_the_shifted_clock_reaches_gdal(tmp_path: Path) -> None:
    """The library that shifts the clock works: a file of GDAL's own making does change with the day."""
    library = clock_library(tmp_path)
    code = (
        "import sys, fiona\n"
        "schema = {'geometry': 'Point', 'properties': {'A': 'int'}}\n"
        "fiona.open(sys.argv[1], 'w', driver='ESRI Shapefile', crs='EPSG:4326', schema=schema).close()\n"
    )
    dates = []
    for days in (0, 400):
        run_shifted(library, days, code, str(tmp_path / f"{days}.shp"))
        dates.append((tmp_path / f"{days}.dbf").read_bytes()[1:4])
    assert dates[0] != dates[1]


@pytest.mark.parametrize("date", ["1980-01-01", "2027-04-12", "2100-02-28"])
def test_the_only_date_is_the_sheets(tmp_path: Path, date: str) -> None:
    """The .dbf carries the sheet's date, and no file has today's as text."""
    today = dt.datetime.now(tz=dt.UTC).date().isoformat()
    digests(sheet_of(date=date), tmp_path / "a")
    year, month, day = map(int, date.split("-"))
    assert (tmp_path / "a" / f"{sheet_of().name}.dbf").read_bytes()[1:4] == bytes([year - 1900, month, day])
    for path in (tmp_path / "a").iterdir():
        content = path.read_bytes()
        assert today.encode() not in content
        assert (date.encode() in content) == (path.suffix == ".gpkg")


@pytest.mark.parametrize("form", FORMATS)
def test_no_path_goes_into_a_file(tmp_path: Path, form: Format) -> None:
    """A file does not know where it was written."""
    folder = tmp_path / "tellme"
    folder.mkdir()
    for path in write_sheet(sheet_of(), folder, form):
        assert b"tellme" not in path.read_bytes()


@pytest.mark.parametrize("form", FORMATS)
def test_writing_again_over_a_file_gives_the_same(tmp_path: Path, form: Format) -> None:
    """What was there before leaves no trace."""
    first = {path: path.read_bytes() for path in write_sheet(sheet_of(), tmp_path, form)}
    write_sheet(sheet_of([HOLED]), tmp_path, form)
    assert {path: path.read_bytes() for path in write_sheet(sheet_of(), tmp_path, form)} == first
