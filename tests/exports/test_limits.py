"""What a receiver can't load."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from support_sheets import HOLED, SQUARES, column_of, sheet_of

from vrx.exports.limits import number_fits, receiver_findings
from vrx.model.receiver import Format, Receiver


def test_a_sheet_within_the_limits_has_no_finding() -> None:
    """The usual sheet loads on the default receiver, and exactly at each limit."""
    assert receiver_findings(sheet_of(), Receiver()) == []
    at_limit = Receiver(most_features=5, most_vertices=5, rate_width=4, rate_decimals=1, name_length=19)
    assert receiver_findings(sheet_of(), at_limit) == []


def test_too_many_polygons_stop_with_both_numbers() -> None:
    """One polygon more than the receiver loads is a stop."""
    (finding,) = receiver_findings(sheet_of(), Receiver(most_features=4))
    assert (finding.id, finding.severity) == ("too-many-features", "stop")
    assert "5 polygons" in finding.message
    assert "loads 4" in finding.message
    assert finding.remedy


def test_too_many_vertices_name_the_polygon_and_the_place() -> None:
    """Vertices are counted as written, holes and closing points included: 5 + 5 here."""
    sheet = sheet_of([*SQUARES[:1], HOLED])
    (finding,) = receiver_findings(sheet, Receiver(most_vertices=9))
    assert (finding.id, finding.severity, finding.features) == ("too-many-vertices", "stop", (2,))
    assert "10 vertices" in finding.message
    assert finding.where is not None
    assert finding.where.equals(HOLED)
    assert receiver_findings(sheet, Receiver(most_vertices=10)) == []


def test_the_place_of_a_finding_is_in_longitude_and_latitude() -> None:
    """A sheet in UTM 34S is reported on WGS 84: 100 m south of the equator, on the central meridian of 21 E.

    The first metre south of the equator is 9 999 999 in that grid, false northing 10 000 000 m (EPSG:32734).
    """
    box = shapely.box(500000, 9999900, 500100, 10000000)
    sheet = sheet_of([box], crs="EPSG:32734")
    (finding,) = receiver_findings(sheet, Receiver(most_vertices=4))
    assert finding.where is not None
    west, south, east, north = finding.where.bounds
    assert (west, north) == pytest.approx((21, 0), abs=1e-9)
    assert -0.001 < south < 0
    assert 21 < east < 21.001


@pytest.mark.parametrize(
    ("name", "words"),
    [
        pytest.param("x" * 33, "33 characters", id="too long"),
        pytest.param("höhe", "other characters", id="an accent"),
        pytest.param("a b", "other characters", id="a blank"),
        pytest.param("-a", "other characters", id="a leading dash"),
        pytest.param("NUL", "device", id="a device of Windows"),
    ],
)
def test_a_file_name_that_does_not_load_stops(name: str, words: str) -> None:
    """Length, characters and reserved names of files are checked."""
    (finding,) = receiver_findings(sheet_of(name=name), Receiver())
    assert (finding.id, finding.severity) == ("name-not-loadable", "stop")
    assert words in finding.message


@pytest.mark.parametrize(
    "names", [("RATE_KG_HA_N",), ("Höhe",), ("2RATE",), ("_RATE",), ("",), ("RATE", "rate")], ids=repr
)
def test_a_column_name_that_does_not_load_stops(names: tuple[str, ...]) -> None:
    """Columns have at most ten plain characters, a letter first, and differ by more than case."""
    sheet = replace(sheet_of(), columns=tuple(column_of([1, 2, 3, 4, 5], name=name) for name in names))
    found = receiver_findings(sheet, Receiver())
    assert [finding.id for finding in found] == ["name-not-loadable"] * len(names)


@pytest.mark.parametrize(
    ("names", "form", "loads"),
    [
        pytest.param(("RATE_KG_HA_N",), "geojson", True, id="GeoJSON takes long names"),
        pytest.param(("RATE_KG_HA_N",), "geopackage", True, id="GeoPackage takes long names"),
        pytest.param(("geom",), "geojson", True, id="a free name in GeoJSON"),
        pytest.param(("FID",), "geopackage", False, id="GeoPackage has its own fid"),
        pytest.param(("",), "geojson", False, id="no name"),
        pytest.param(("A", "a"), "geojson", False, id="twice"),
    ],
)
def test_other_formats_have_other_names(names: tuple[str, ...], form: Format, loads: bool) -> None:
    """Ten plain characters are a rule of the Shapefile; the others have rules of their own."""
    sheet = replace(sheet_of(), columns=tuple(column_of([1, 2, 3, 4, 5], name=name) for name in names))
    found = receiver_findings(sheet, Receiver(formats=(form,)))
    assert [finding.id for finding in found] == ([] if loads else ["name-not-loadable"] * len(names))


def test_the_rate_of_the_case_does_not_fit_its_width(shared: Path) -> None:
    """102500 seeds/ha in a column of width 5 is a stop that names value, width needed and width there; 6 holds it."""
    case = shared / "cases" / "S15-export-width"
    expected = json.loads((case / "case.json").read_text())["expected"]
    column = column_of(expected["values"]["rates_after_roundtrip_if_widened"], 0, product="Maize", unit="seeds/ha")
    finding = number_fits(column, 5, 0)
    assert finding is not None
    assert (finding.id, finding.severity, finding.features, finding.product) == ("rate-too-wide", "stop", (2,), "Maize")
    assert all(word in finding.message for word in expected["message_should_mention"])
    assert "width of 6" in finding.message
    assert "width of 5" in finding.message
    assert number_fits(column, 6, 0) is None


@pytest.mark.parametrize(
    ("counts", "decimals", "width", "most_decimals", "fits"),
    [
        pytest.param([185], 1, 4, 1, True, id="18.5 in 4.1"),
        pytest.param([185], 1, 3, 1, False, id="the point counts"),
        pytest.param([-185], 1, 4, 1, False, id="the sign counts"),
        pytest.param([5], 1, 3, 1, True, id="0.5 has a leading zero"),
        pytest.param([5], 1, 2, 1, False, id="0.5 does not become .5"),
        pytest.param([1850], 2, 9, 1, False, id="a decimal too many"),
        pytest.param([10**15 - 1], 0, None, None, True, id="15 digits"),
        pytest.param([10**15], 0, None, None, False, id="16 digits"),
        pytest.param([], 1, 1, 0, True, id="no rate"),
        pytest.param([10**9], 9, None, None, True, id="no limit given"),
    ],
)
def test_a_rate_fits_its_column_or_is_named(
    counts: list[int], decimals: int, width: int | None, most_decimals: int | None, fits: bool
) -> None:
    """Widths are counted on the text that is written, and the finding says width."""
    finding = number_fits(column_of(counts, decimals), width, most_decimals)
    assert (finding is None) == fits
    if finding:
        assert "width" in finding.message
