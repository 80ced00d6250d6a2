"""Tables of rates from files, through the build."""

from __future__ import annotations

from pathlib import Path

import pytest
from support_cases import RATES, UTM, moved, write_plain, write_shapefile, zone_ring
from support_plans import Outcome, build_plan, plan_text

Capture = pytest.CaptureFixture[str]


def built(
    folder: Path,
    capsys: Capture,
    table: str,
    *,
    keys: str = 'unit = "kg/ha"',
    zone_keys: str = "",
    encoding: str = "utf-8",
) -> Outcome:
    """Build zones A, B, C with their rates from a CSV file."""
    zones = write_plain(folder)
    (folder / "rates.csv").write_text(table, encoding=encoding, newline="")
    rates = f'[[rate]]\nproduct = "Granular"\nby = "table"\ntable = "rates.csv"\n{keys}\n'
    plan = plan_text(zones=zones.name, boundary=zones.name, name="ZONE", rates=rates, zone_keys=zone_keys)
    return build_plan(folder, plan, capsys)


def test_a_table_with_decimal_commas_is_read_with_them(tmp_path: Path, capsys: Capture) -> None:
    """A semicolon table with 90,5 gives 90.5, though the plan says nothing of a comma, and the comma is noted."""
    out = built(tmp_path, capsys, "ZONE;rate\nA;90,5\nB;120,25\nC;150\n")
    assert out.wanted() == {"A": 90.5, "B": 120.25, "C": 150}
    assert out.named("decimal-comma")


@pytest.mark.parametrize(
    "table",
    [
        pytest.param(
            "\ufeffZONE;rate\r\n;(kg/ha)\r\nA;90,5\r\nB;120,25\r\nC;150\r\n", id="byte order mark, units, commas"
        ),
        pytest.param("ZONE;rate\n;kg/ha\nA;90,5\nB;120,25\nC;150\n", id="units without brackets"),
        pytest.param("ZONE\trate\n-\tkg / ha\nA\t90,5\nB\t120,25\nC\t150\n", id="a dash beside them, tabs"),
        pytest.param("ZONE,rate\nUnits:,kg/ha\nA,90.5\nB,120.25\nC,150\n", id="the word beside them, points"),
        pytest.param("ZONE;rate\nA;90,5 kg/ha\nB;120,25 kg/ha\nC;150 kg/ha\n", id="a unit in each cell"),
        pytest.param("sep=;\nZONE;rate\n;[kg/ha]\nA;90,5\nB;120,25\nC;150\n", id="a line that says the separator"),
    ],
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_table_needs_no_unit_in_the_plan(table: str, encoding: str, tmp_path: Path, capsys: Capture) -> None:
    """Whatever program wrote it: units from its own row or cells, numbers with its own mark."""
    out = built(tmp_path, capsys, table, keys="", encoding=encoding)
    assert (out.code, out.wanted()) == (0, {"A": 90.5, "B": 120.25, "C": 150}), out.text


def test_a_group_of_thousands_stays_doubtful_beside_commas(tmp_path: Path, capsys: Capture) -> None:
    """1,250 kg/ha is 1.25 or 1250, also where 90,5 shows that the comma is a decimal mark."""
    out = built(tmp_path, capsys, "ZONE;rate\nA;90,5 kg/ha\nB;1,250 kg/ha\nC;150 kg/ha\n", keys="")
    assert out.code == 2
    assert "rates.csv, line 3" in out.text
    assert "'1,250 kg/ha'" in out.text


def test_a_zone_whose_rate_is_a_bare_unit_is_no_row_of_units(tmp_path: Path, capsys: Capture) -> None:
    """A record that lost its number is told, not taken for a row of units."""
    out = built(tmp_path, capsys, "ZONE,rate\nA,kg/ha\nB,120\nC,150\n")
    assert out.code == 2
    assert "rates.csv, line 2" in out.text


def test_the_decimal_mark_of_the_zone_layer_is_not_that_of_the_table(tmp_path: Path, capsys: Capture) -> None:
    """`zones.decimal` is about the zone layer: a table with points is read with points."""
    out = built(tmp_path, capsys, "ZONE,rate\nA,90.5\nB,120.25\nC,150\n", zone_keys='decimal = ","')
    assert out.wanted() == {"A": 90.5, "B": 120.25, "C": 150}


@pytest.mark.parametrize(
    ("row", "keys", "says"),
    [
        pytest.param("(lb/ac)", 'unit = "kg/ha"', "in lb/ac, and the plan says unit = 'kg/ha'", id="another unit"),
        pytest.param("[kg N/ha]", 'unit = "kg/ha"', "in kg N/ha, and the plan says", id="a nutrient"),
        pytest.param("(L/ha)", 'unit = "kg/ha"', "in L/ha, and the plan says", id="another kind"),
    ],
)
def test_a_row_of_units_that_says_another_unit_is_refused(
    row: str, keys: str, says: str, tmp_path: Path, capsys: Capture
) -> None:
    """Nobody knows which of the two is right."""
    out = built(tmp_path, capsys, f"ZONE,rate\n,{row}\nA,90\nB,120\nC,150\n", keys=keys)
    assert out.code == 2
    assert says in out.text


@pytest.mark.parametrize(
    ("row", "keys"),
    [
        pytest.param("(kg/ha)", 'unit = "kg/ha"', id="the same"),
        pytest.param("( kg / ha )", 'unit = "kg/ha"', id="the same with spaces"),
        pytest.param("(kg/ha)", "", id="in place of the plan's"),
        pytest.param("(as ordered)", 'unit = "kg/ha"', id="no unit"),
        pytest.param("(gal/ac)", 'unit = "kg/ha"', id="read in two ways: the plan says which"),
    ],
)
def test_a_row_of_units_that_agrees_or_says_nothing(row: str, keys: str, tmp_path: Path, capsys: Capture) -> None:
    """Its unit is taken where the plan gives none."""
    out = built(tmp_path, capsys, f"ZONE,rate\n,{row}\nA,90\nB,120\nC,150\n", keys=keys)
    assert (out.code, out.wanted()) == (0, {"A": 90, "B": 120, "C": 150})


def test_a_bad_cell_is_told_with_its_line(tmp_path: Path, capsys: Capture) -> None:
    """Header, a row of units and an empty line count: it is the line that an editor shows."""
    out = built(tmp_path, capsys, "ZONE,rate\n,(kg/ha)\n\nA,90\nB,12O\nC,150\n,7\n")
    (bad, nameless) = out.said["errors"]
    assert (bad["where"], nameless["where"]) == ("rates.csv, line 5", "rates.csv, line 7")
    assert "'12O'" in bad["problem"]
    assert "7 kg/ha stands beside no zone" in nameless["problem"]


@pytest.mark.parametrize("named", ["1", "1.0", "1.000"])
def test_zones_named_by_a_number_with_decimals(named: str, tmp_path: Path, capsys: Capture) -> None:
    """A number field of eleven decimals holds 1.00000000000: it is zone 1, and so is a cell with 1 or 1.0."""
    shapes = [[moved(zone_ring(zone), UTM)] for zone in RATES]
    fields = (("SOIL", "N", 19, 11), ("RATE", "N", 12, 2))
    rows = [("1.00000000000", "0"), ("2.00000000000", "0"), ("3.50000000000", "0")]
    zones = write_shapefile(tmp_path, "soils", shapes, rows, fields=fields)
    (tmp_path / "rates.csv").write_text(f"zone,rate\n{named},90\n2,120\n3.5,150\n", encoding="utf-8")
    rates = '[[rate]]\nproduct = "Granular"\nby = "table"\ntable = "rates.csv"\nunit = "kg/ha"\n'
    out = build_plan(tmp_path, plan_text(zones=zones.name, boundary=zones.name, name="SOIL", rates=rates), capsys)
    assert (out.code, out.wanted()) == (0, {"1": 90, "2": 120, "3.5": 150})


def test_the_column_that_was_meant_is_proposed(tmp_path: Path, capsys: Capture) -> None:
    """Rates for rate."""
    out = built(tmp_path, capsys, "ZONE,rate,old\nA,90,80\n", keys='unit = "kg/ha"\ncolumn = "Rates"')
    assert out.code == 2
    assert 'Did you mean "rate"?' in out.text
