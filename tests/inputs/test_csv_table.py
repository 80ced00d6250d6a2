from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrx.errors import CrsError, InputError, VrxError
from vrx.inputs.csv_table import decimal_of, read_csv
from vrx.inputs.read import read_layer
from vrx.model.layer import Table


def read(text: str | bytes) -> Table:
    return read_csv(text if isinstance(text, bytes) else text.encode(), source="t.csv")


def cells(table: Table) -> dict[str, tuple[object, ...]]:
    return {name: column.cells for name, column in table.columns.items()}


@pytest.mark.parametrize(
    ("text", "ids"),
    [
        pytest.param("zone,rate\nA,12.5\nB,0\n", [], id="plain"),
        pytest.param("zone,rate\r\nA,12.5\rB,0\n\n,\n", [], id="line ends mixed, empty lines"),
        pytest.param("\ufeffzone,rate\nA,12.5\nB,0", [], id="byte order mark, no last line end"),
        pytest.param("zone;rate\nA;12.5\nB;0\n", ["separator"], id="semicolons"),
        pytest.param("zone\trate\nA\t12.5\nB\t0\n", ["separator"], id="tabs"),
        pytest.param("zone|rate\nA|12.5\nB|0\n", ["separator"], id="vertical bars"),
        pytest.param("sep=;\r\nzone;rate\r\nA;12.5\r\nB;0\r\n", ["separator"], id="a first line for Excel"),
        pytest.param('"sep=,"\nzone,rate\nA,12.5\nB,0\n', [], id="that line in quotes"),
        pytest.param(' zone , "rate"\n"A" , 12.5 \nB,"0"\n', [], id="quotes and spaces"),
        pytest.param("zone,rate,\nA,12.5,\nB,0,\n", [], id="a separator at the end"),
        pytest.param("zone,rate\n[-],(kg/ha)\nA,12.5\nB,0\n", ["units-row"], id="a units row"),
        pytest.param("zone,rate\nA,12.5\nB,0\n".encode("utf-16"), [], id="UTF-16"),
    ],
)
def test_tables_as_they_are_met(text: str | bytes, ids: list[str]) -> None:
    """The same two records come out of each, as text, with a note where it is not plain."""
    table = read(text)
    assert cells(table) == {"zone": ("A", "B"), "rate": ("12.5", "0")}
    assert {column.kind for column in table.columns.values()} == {"text"}
    assert [finding.id for finding in table.findings] == ids


@pytest.mark.parametrize(
    ("text", "decimal"),
    [
        pytest.param("zone;rate\nA;12,5\n", ",", id="semicolons and a comma"),
        pytest.param("zone;rate\nA;12,5\nB;12.5\n", ".", id="both marks: none is taken for the one"),
        pytest.param("zone;rate\nA;1,250\n", ".", id="1,250 alone tells nothing"),
        pytest.param("zone;name\nA;Meier, Hof\n", ".", id="a comma in words"),
        pytest.param('zone,rate\nA,"12,5"\n', ".", id="never where the comma separates"),
    ],
)
def test_the_decimal_comma_is_noticed(text: str, decimal: str) -> None:
    """It is taken for one only where the comma does not separate and nothing speaks against it."""
    table = read(text)
    assert decimal_of(table) == decimal
    assert ("decimal comma" in " ".join(finding.message for finding in table.findings)) == (decimal == ",")


def test_names_and_short_lines_are_mended_and_said() -> None:
    """Names that are empty or come twice get one of their own; missing cells are empty."""
    table = read("zone,rate,rate,\nA,1,2,x\nB\n")
    assert cells(table) == {"zone": ("A", "B"), "rate": ("1", None), "rate_2": ("2", None), "column_4": ("x", None)}
    assert {finding.id for finding in table.findings} == {"column-names", "short-row"}


def test_a_changed_name_does_not_take_another_column_s() -> None:
    """The second rate is not called rate_2 where a column of that name is there."""
    assert list(read("rate,rate_2,rate\n1,2,3\n").columns) == ["rate", "rate_2", "rate_3"]


def test_a_table_of_one_column_is_read() -> None:
    """A column alone needs no separator."""
    assert cells(read("rate\n12.5\n0\n")) == {"rate": ("12.5", "0")}


def test_names_in_windows_1252_are_read_with_a_note() -> None:
    """A table that is not UTF-8 is Windows-1252, and a note says so."""
    table = read("zone,rate\nHöhe – Süd,90\n".encode("cp1252"))
    assert table.columns["zone"].cells == ("Höhe – Süd",)
    assert "1252" in table.findings[0].message


@pytest.mark.parametrize(
    ("text", "words"),
    [
        pytest.param("", "empty", id="nothing"),
        pytest.param("\n\n,,\n", "empty", id="empty lines"),
        pytest.param("1,2\n3,4\n", "numbers, not the names", id="no header"),
        pytest.param(
            "zone,rate\nA,1\nB,2,3\nC,4,5\n", "line 3: There are 3 cells .*line 4: There are", id="long lines"
        ),
        pytest.param("a,b\n" + "x" * 200_000 + ",1\n", "can't be read", id="a cell without end"),
    ],
)
def test_what_is_no_table_is_refused(text: str, words: str) -> None:
    """The lines at fault are named, all of them."""
    with pytest.raises(VrxError, match=words):
        read(text)


plain = st.text(st.characters(blacklist_categories=["Cs", "Cc", "Zs", "Zl", "Zp"]), min_size=1, max_size=6)


@given(st.sampled_from(",;\t"), st.lists(st.tuples(plain, plain), min_size=3, max_size=8))
def test_what_is_written_is_read(separator: str, rows: list[tuple[str, str]]) -> None:
    """Any text that is quoted as RFC 4180 says comes back as it was."""
    text = io.StringIO()
    writer = csv.writer(text, delimiter=separator, quoting=csv.QUOTE_ALL)
    writer.writerows([("zone", "note"), *rows])
    table = read(text.getvalue())
    if not any(finding.id == "units-row" for finding in table.findings):
        assert list(zip(*cells(table).values(), strict=True)) == [tuple(part.strip() for part in row) for row in rows]


@pytest.mark.parametrize(
    ("header", "crs"),
    [
        pytest.param("Longitude,Latitude", "", id="longitude and latitude"),
        pytest.param("LON,lat", "", id="short, any case"),
        pytest.param("lng,lat", "", id="lng"),
        pytest.param("x,y", "EPSG:4326", id="x and y"),
        pytest.param("Easting,Northing", "EPSG:4326", id="easting and northing"),
    ],
)
def test_points_are_found_by_the_names_of_columns(tmp_path: Path, header: str, crs: str) -> None:
    """Common names are known; longitude and latitude are WGS 84, others need a CRS; both empty is no shape."""
    path = tmp_path / "p.csv"
    path.write_text(f"id,{header}\n1,-96.5,40.25\n2,,\n")
    layer = read_layer(path, crs=crs)
    assert [shape and shape.wkt for shape in layer.shapes] == ["POINT (-96.5 40.25)", None]
    assert layer.crs == "EPSG:4326"
    if crs:
        with pytest.raises(CrsError, match="does not say where its columns"):
            read_layer(path)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        pytest.param("zone,rate\nA,1\n", "No columns of coordinates .*'zone', 'rate'", id="no coordinates"),
        pytest.param("lon,lat\n-96,40\n-96,north\n", "p.csv, line 3: lat is 'north'", id="a word"),
        pytest.param("lon,lat\n-96,\n", "line 2: lat is empty", id="half a position"),
        pytest.param("lon,lat\n-96,-9999\n", "line 2: lat is '-9999'.*no-data-code", id="a no-data code"),
        pytest.param("lon,lat\n40,-96.5\n", r"latitude of -96\.5 is impossible; x and y look swapped", id="swapped"),
    ],
)
def test_bad_positions_are_named_with_their_lines(tmp_path: Path, text: str, words: str) -> None:
    """No position is guessed or left out unseen."""
    path = tmp_path / "p.csv"
    path.write_text(text)
    with pytest.raises(InputError if "line" not in words else VrxError, match=words):
        read_layer(path)


def test_lines_are_those_of_the_file() -> None:
    """The line of the separator, header, units and an empty line count."""
    assert read("sep=;\nzone;rate\n[-];(kg/ha)\n\nA;12.5\nB;0\n").lines == (5, 6)


def test_a_row_of_units_is_kept_with_its_columns() -> None:
    """As it stands there, without its brackets; a column without one is not in it."""
    table = read("zone,rate,rate\n,(kg/ha),[ lb/ac ]\nA,1,2\n")
    assert table.units == {"rate": "kg/ha", "rate_2": "lb/ac"}


def test_a_note_with_a_number_says_nothing_of_the_decimal_mark() -> None:
    """2.5 km west is a note: the commas of the numbers beside it still are decimal marks."""
    table = read_csv(b"zone;rate;note\nA;12,5;2.5 km west\nB;20;1,5 m low\n", source="t.csv")
    assert decimal_of(table) == ","
