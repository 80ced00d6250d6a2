from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import CRS
from support_cases import UTM, moved, polygon, write_geojson, write_no_prj, write_plain, zone_ring

from vrx.errors import CrsError
from vrx.inputs.crs_text import declared_crs, differs, missing_crs
from vrx.inputs.place import check_place
from vrx.inputs.read import read_layer

FIELD = np.array([-96.01, 40.04, -95.99, 40.06])
ODD = (
    'GEOGCS["GCS_Home_Made",DATUM["D_{datum}",SPHEROID["GRS_1980",6378137.0,298.257222101]],'
    'PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]'
)


@pytest.mark.parametrize("code", [4326, 4269, 7844, 32614, 26914, 25832, 28992, 2193, 3857, 26852, 31983, 27700, 5070])
def test_a_prj_in_the_flavour_of_shapefiles_is_known_by_its_code(code: int) -> None:
    """The WKT that shapefiles carry is recognised without a word, for systems from all over the world."""
    wkt = CRS(code).to_wkt("WKT1_ESRI")
    assert declared_crs(wkt, part=".prj", source="z.shp") == (f"EPSG:{code}", ())


def test_heights_of_a_crs_are_left_out() -> None:
    """Of a compound or three-dimensional CRS only the map part matters."""
    assert declared_crs(CRS("EPSG:4979").to_wkt(), part=".prj", source="z.shp")[0] == "EPSG:4326"
    assert declared_crs(CRS("EPSG:26914+5703").to_wkt(), part=".prj", source="z.shp")[0] == "EPSG:26914"


@pytest.mark.parametrize(
    ("datum", "severity"),
    [
        pytest.param("North_American_1983", "note", id="a datum that is known"),
        pytest.param("Unknown_based_on_GRS80_ellipsoid", "caution", id="a datum that is not"),
    ],
)
def test_a_crs_without_a_code_is_used_and_said(datum: str, severity: str) -> None:
    """The WKT itself is the CRS; the finding names the datum and the .prj."""
    crs, (finding,) = declared_crs(ODD.format(datum=datum), part=".prj", source="z.shp")
    assert CRS(crs).is_geographic
    assert (finding.id, finding.severity) == ("crs-unknown", severity)
    assert "datum" in finding.message
    assert ".prj" in finding.message


@pytest.mark.parametrize("text", ["no CRS", "WGS 84", "PROJCS[", 'GEOGCS["x"]', "Projection UTM\nZone 15\n"])
def test_a_prj_that_cannot_be_read_is_refused(text: str) -> None:
    """What is no CRS is not guessed from its words."""
    with pytest.raises(CrsError, match=r"CRS in its \.prj can't be read"):
        declared_crs(text, part=".prj", source="z.shp")


@pytest.mark.parametrize(
    ("one", "other", "result"),
    [
        pytest.param("EPSG:4326", "EPSG:4326", False, id="the same"),
        pytest.param("EPSG:4326", ODD.format(datum="WGS_1984"), False, id="the same by another name"),
        pytest.param("EPSG:4326", "EPSG:4267", True, id="NAD27 lies metres away"),
        pytest.param("EPSG:4326", "EPSG:32614", True, id="degrees and metres"),
    ],
)
def test_crss_are_compared_by_where_they_put_a_map(one: str, other: str, result: bool) -> None:
    """Two names for one thing do not differ; a datum does."""
    assert differs(one, other, FIELD) is result


def test_the_files_own_crs_holds_against_the_plan(tmp_path: Path) -> None:
    """Where both are given and differ, the file's own is used, with a caution; where they agree, silently."""
    path = write_plain(tmp_path)
    layer = read_layer(path, crs="EPSG:32615")
    assert layer.crs == UTM
    assert [(finding.id, finding.severity) for finding in layer.findings] == [("crs-suspect", "caution")]
    assert read_layer(path, crs=UTM).findings == ()


def test_geojson_in_metres_without_a_word_is_refused_unless_the_plan_settles_it(tmp_path: Path) -> None:
    """Its standard says degrees, its coordinates can't be: the plan may say what they are, with a caution."""
    features = [{"type": "Feature", "properties": {}, "geometry": polygon(zone_ring("A"), crs=UTM)}]
    path = write_geojson(tmp_path / "z.geojson", features)
    with pytest.raises(CrsError, match="metres or feet"):
        read_layer(path)
    layer = read_layer(path, crs=UTM)
    assert layer.crs == UTM
    assert [(finding.id, finding.severity) for finding in layer.findings] == [("crs-suspect", "caution")]


@pytest.mark.parametrize("text", ["EPSG:5703", "EPSG:999999", "utm 14"])
def test_a_crs_given_that_is_none_is_refused(tmp_path: Path, text: str) -> None:
    """A vertical system, a code that is not there, or words."""
    with pytest.raises(CrsError):
        read_layer(write_no_prj(tmp_path), crs=text)


@pytest.mark.parametrize(
    ("box", "words"),
    [
        pytest.param((40.0, -96.5, 40.1, -96.4), "latitude of -96.5 is impossible; x and y look swapped", id="swapped"),
        pytest.param((5e5, 4e6, 6e5, 5e6), "metres or feet of a map grid", id="metres"),
        pytest.param((100.0, 95.0, 101.0, 96.0), "latitude of 96 is impossible; latitudes lie", id="no swap helps"),
        pytest.param((263.9, 40.0, 264.0, 40.1), "longitude of 264 is impossible", id="longitudes to 360"),
    ],
)
def test_impossible_degrees_are_refused(box: tuple[float, ...], words: str) -> None:
    """The error says which number is impossible and what it looks like."""
    with pytest.raises(CrsError, match=words):
        check_place("EPSG:4326", np.array(box), source="z.shp")


@pytest.mark.parametrize(
    ("crs", "box", "suspect"),
    [
        pytest.param(UTM, (5e5, 4e6, 5e5, 4e6), False, id="in its zone"),
        pytest.param(UTM, (1e6, 4.43e6, 1e6, 4.43e6), False, id="in the next zone, as offices do"),
        pytest.param(UTM, (-96.0, 40.0, -95.9, 40.1), True, id="degrees in a CRS of metres"),
        pytest.param("EPSG:26852", (5e5, 4e6, 5e5, 4e6), True, id="UTM metres in state plane feet"),
        pytest.param("EPSG:2193", (5e5, 4e6, 5e5, 4e6), True, id="New Zealand's grid elsewhere"),
        pytest.param("EPSG:2193", (1.6e6, 5.4e6, 1.6e6, 5.4e6), False, id="New Zealand's grid at home"),
        pytest.param("EPSG:3832", (1e6, 1e6, 1e6, 1e6), False, id="a region across the date line"),
        pytest.param("EPSG:4326", (179.0, -17.0, 180.0, -16.0), False, id="at the date line"),
    ],
)
def test_maps_far_outside_the_region_of_their_crs_are_suspect(crs: str, box: tuple[float, ...], suspect: bool) -> None:
    """A caution, with the place where the map would lie."""
    findings = check_place(crs, np.array(box), source="z.shp")
    assert [finding.id for finding in findings] == ["crs-suspect"] * suspect
    assert all(finding.severity == "caution" for finding in findings)


@pytest.mark.parametrize(
    ("box", "words"),
    [
        pytest.param((5.7e5, 4.86e6, 5.8e5, 4.87e6), ("metres", "latitude 43.9", "-46.4", "UTM"), id="UTM"),
        pytest.param((-96.1, 40.0, -96.0, 40.1), ("degrees of longitude",), id="degrees"),
        pytest.param((1.2, 1.3, 64.0, 67.4), ("local grid",), id="small numbers"),
        pytest.param((178e3, 329e3, 181e3, 333e3), ("metres", "latitude 3.0 in a northern"), id="no southern UTM"),
        pytest.param((2.7e6, 2.0e5, 2.8e6, 3.0e5), ("metres",), id="no UTM"),
        pytest.param((np.nan,) * 4, (), id="no shapes"),
    ],
)
def test_what_is_missing_is_described(box: tuple[float, ...], words: tuple[str, ...]) -> None:
    """The range of coordinates is given, and only what can be said of it."""
    error = missing_crs(np.array(box), lacking="none", mend="mend it", source="z.shp")
    assert all(word in error.problem for word in words)
    assert ("UTM" in error.problem) == any("latitude" in word for word in words)


@pytest.mark.parametrize(("y", "zone"), [(9.5e6, "southern"), (1e5, "northern")])
def test_only_latitudes_that_utm_has_are_suggested(y: float, zone: str) -> None:
    """UTM reaches from 80 south to 84 north; a reading beyond that is not offered."""
    error = missing_crs(np.array([4e5, y, 4e5, y]), lacking="none", mend="mend it", source="z.shp")
    assert zone in error.problem
    assert ("northern" in error.problem) != ("southern" in error.problem)


@given(st.floats(-99, -93), st.floats(20, 60))
def test_no_place_in_its_zone_is_suspect(longitude: float, latitude: float) -> None:
    """Whatever lies in UTM zone 14 north raises nothing."""
    x, y = moved([(0.0, 0.0)], UTM)[0]
    assert check_place(UTM, np.array([x, y, x, y]), source="z.shp") == ()
    box = np.array([longitude, latitude, longitude, latitude])
    assert check_place("EPSG:4326", box, source="z.shp") == ()
