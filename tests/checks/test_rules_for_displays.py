"""Rules about what a display makes of a map: its coordinates, its columns, and keep-outs that are mere holes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from support_cases import (
    UTM,
    feature,
    moved,
    polygon,
    rectangle,
    write_geojson,
    write_no_prj,
    write_shapefile,
    zone_ring,
)
from support_checks import named, plan_for, strips, the
from support_fields import SPREADER, keep_out, write_box

from vrx.runs.check import check

RATES = (85, 115, 140)
WITH_DEFAULT = f'{SPREADER.rstrip()}\ndefault = "100 kg/ha"\n'


def in_crs(folder: Path, crs: str) -> Path:
    """Zones A, B and C as a shapefile in a CRS."""
    shapes: list[Any] = [[moved(zone_ring(zone)[::-1], crs)] for zone in "ABC"]
    rows = [[zone, f"{rate}.00"] for zone, rate in zip("ABC", RATES, strict=True)]
    return write_shapefile(folder, "zones", shapes, rows, crs=crs)


def test_coordinates_that_were_said_are_not_in_the_file(tmp_path: Path) -> None:
    """A shapefile without a .prj can be read with --crs, and the display is still not told."""
    one = the(check([write_no_prj(tmp_path)], crs=UTM), "crs-said")
    assert one.severity == "caution"
    assert "bench.shp does not say its map coordinates (CRS): it is read in EPSG:32614" in one.message


def test_coordinates_said_of_a_file_that_has_its_own(tmp_path: Path) -> None:
    """Where the file says its own nothing was needed."""
    assert not named(check([in_crs(tmp_path, UTM)], crs=UTM), "crs-said")


@pytest.mark.parametrize(
    ("crs", "receiver", "told"),
    [
        pytest.param("EPSG:4326", "", False, id="as the receiver loads"),
        pytest.param(UTM, "", True, id="metres where it loads degrees"),
        pytest.param(UTM, f'[receiver]\ncrs = "{UTM}"\n', False, id="metres where it loads metres"),
        pytest.param("EPSG:4326", f'[receiver]\ncrs = "{UTM}"\n', True, id="degrees where it loads metres"),
    ],
)
def test_coordinates_other_than_the_receiver_s(tmp_path: Path, crs: str, receiver: str, told: bool) -> None:
    """A display refuses them, or puts the map elsewhere."""
    found = named(check([in_crs(tmp_path, crs)], plan=plan_for(tmp_path, rest=receiver)), "crs-not-receivers")
    assert bool(found) is told
    if told:
        wanted = UTM if receiver else "EPSG:4326"
        assert f"The map is in {crs}, and the plan's receiver loads {wanted}." in found[0].message


def test_a_geojson_is_in_degrees_whatever_the_receiver_loads(tmp_path: Path) -> None:
    """Its standard says so."""
    plan = plan_for(tmp_path, rest=f'[receiver]\ncrs = "{UTM}"\n')
    assert not named(check([strips(tmp_path, RATES)], plan=plan), "crs-not-receivers")


def test_another_column_of_rates_is_named(tmp_path: Path) -> None:
    """The one to choose, and the one not to."""
    path = strips(tmp_path, RATES, column="RATE", more={"rate_old": (10, 20, 40.5), "om": (1, 2, 3.5)})
    one = the(check([path], column="RATE"), "other-rate-columns")
    assert one.severity == "note"
    assert one.message == "rate_old (10 to 40.5) may hold rates too: choose RATE on the display."


def test_columns_of_other_numbers_are_no_rates(tmp_path: Path) -> None:
    """Organic matter beside a rate is nothing to choose by mistake."""
    assert not named(check([strips(tmp_path, RATES, more={"om": (1, 2, 3.5)})]), "other-rate-columns")


@pytest.mark.parametrize(
    ("rates", "told"), [pytest.param(("85", "115", "140"), True, id="text"), pytest.param(RATES, False, id="numbers")]
)
def test_rates_in_a_column_of_text(tmp_path: Path, rates: tuple[Any, ...], told: bool) -> None:
    """They read as numbers here; a display may not offer the column."""
    found = check([strips(tmp_path, rates)])
    assert bool(named(found, "rate-as-text")) is told
    assert found.verdict == ("caution" if told else "clear")


def test_a_table_has_no_declared_columns(tmp_path: Path) -> None:
    """KML holds text alone: that its rates are text is its format."""
    ring = " ".join(f"{x:.9f},{y:.9f}" for x, y in moved(rectangle(-210, 0, 210, 250), "EPSG:4326"))
    cell = '<ExtendedData><Data name="rate"><value>85</value></Data></ExtendedData>'
    inner = f"<LinearRing><coordinates>{ring}</coordinates></LinearRing>"
    shape = f"<Polygon><outerBoundaryIs>{inner}</outerBoundaryIs></Polygon>"
    path = tmp_path / "map.kml"
    path.write_text(
        f'<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark>{cell}{shape}'
        "</Placemark></Document></kml>",
        encoding="utf-8",
    )
    assert not named(check([path]), "rate-as-text")


def holed(folder: Path, *, filled: bool) -> Path:
    """The whole field at 85 kg/ha with a hole of 30 m by 30 m, or with rate 0 in it."""
    hole = rectangle(0, 100, 30, 130)
    features = [feature(polygon(rectangle(-210, 0, 210, 250), hole), rate=85)]
    features += [feature(polygon(hole), rate=0)] if filled else []
    return write_geojson(folder / "map.geojson", features)


@pytest.mark.parametrize(
    ("products", "filled", "told"),
    [
        pytest.param(WITH_DEFAULT, False, True, id="a hole, and a default of 100"),
        pytest.param(WITH_DEFAULT, True, False, id="rate 0 there"),
        pytest.param(SPREADER, False, False, id="a hole, and no default"),
    ],
)
def test_a_keep_out_that_is_a_hole_gets_the_default_rate(
    tmp_path: Path, products: str, filled: bool, told: bool
) -> None:
    """900 m2 of a hut get 100 kg/ha where the map says nothing."""
    write_box(tmp_path / "hut.geojson", 0, 100, 30, 130)
    plan = plan_for(tmp_path, products=products, rest=keep_out("hut.geojson", reason='"hut"'))
    found = named(check([holed(tmp_path, filled=filled)], plan=plan), "keep-out-bare")
    assert bool(found) is told
    if told:
        assert found[0].severity == "caution"
        assert found[0].area_m2 == pytest.approx(900, rel=1e-4)
        assert "on 0.0900 ha (0.222 ac) of the keep-out hut: the display gives its default rate, 100 kg/ha" in (
            found[0].message
        )


def test_a_keep_out_of_another_product_is_a_gap(tmp_path: Path) -> None:
    """What binds one product is ground to treat for the other one."""
    write_box(tmp_path / "hut.geojson", 0, 100, 30, 130)
    other = SPREADER.replace('"Granular"', '"Other"')
    plan = plan_for(
        tmp_path, products=SPREADER + other, rates=("Granular", "Other"),
        rest=keep_out("hut.geojson", products='["Other"]'),
    )  # fmt: skip
    path = holed(tmp_path, filled=False)
    assert the(check([path], plan=plan, product="Granular"), "gap").area_m2 == pytest.approx(900, rel=1e-4)
    assert not named(check([path], plan=plan, product="Other"), "gap")


@pytest.mark.parametrize(
    ("low", "severity"),
    [pytest.param(200, "caution", id="less than half"), pytest.param(220, "stop", id="more than half")],
)
def test_most_of_the_ground_below_the_minimum_stops(tmp_path: Path, low: float, severity: str) -> None:
    """Of 420 m a strip at 10 kg/ha, with a minimum of 20: most of it so is another product's map."""
    found = check([strips(tmp_path, (10, 85), widths=(low, 420 - low))], plan=plan_for(tmp_path))
    assert the(found, "rate-below-min").severity == severity
