"""Files that go wrong, from the project's own generator: areas, outcome and named finding of the whole build.

The areas are known by construction: rectangles in an equal-area projection, see ``support_cases``.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapefile
import shapely
import support_cases as cases
import support_formats as formats
from support_fields import SPREADER, bench, keep_out, write_box, write_line
from support_plans import Outcome, build_plan, plan_text

Capture = pytest.CaptureFixture[str]
CAPITALS = {"name": "ZONE", "column": "RATE"}


def built(folder: Path, written: Path | tuple[Path, ...], capsys: Capture, *options: str, **changes: Any) -> Outcome:
    """Build the file of a case within a sound boundary; a shapefile's fields are spelt in capitals."""
    cases.write_boundary(folder)
    paths = [written] if isinstance(written, Path) else list(written)
    capitals = CAPITALS if paths[0].suffix in {".shp", ".zip"} else {}
    keys: dict[str, Any] = {
        "zones": [path.name for path in paths],
        "boundary": "boundary.geojson",
        "products": SPREADER,
        **capitals,
    }
    return build_plan(folder, plan_text(**(keys | changes)), capsys, *options)


@pytest.mark.parametrize(
    ("write", "outcome", "named"),
    [
        pytest.param(cases.write_plain, "repair_silent", set(), id="nothing wrong"),
        pytest.param(cases.write_state_plane_feet, "repair_silent", set(), id="US survey feet"),
        pytest.param(cases.write_web_mercator, "repair_silent", set(), id="Web Mercator"),
        pytest.param(cases.write_nested_zip, "repair_silent", set(), id="a zip with ghosts"),
        pytest.param(cases.write_odd_prj, "repair_notice", {"crs-unknown"}, id="a .prj under a name of its own"),
        pytest.param(cases.write_legacy_crs, "repair_notice", {"crs-member"}, id="the old crs member"),
        pytest.param(cases.write_no_shx, "repair_notice", {"missing-part"}, id="no .shx"),
        pytest.param(cases.write_deleted_record, "repair_notice", {"deleted-record"}, id="a deleted record"),
        pytest.param(cases.write_null_and_empty, "warn", {"no-shape"}, id="null and empty shapes"),
        pytest.param(cases.write_spur, "repair_notice", {"invalid-shape"}, id="a spur"),
    ],
)
def test_zones_have_their_true_areas_and_rates(
    write: Callable[[Path], Path], outcome: str, named: set[str], tmp_path: Path, capsys: Capture
) -> None:
    """4.5, 3 and 3 ha at 85, 115 and 140 kg/ha, whatever the file is like; and what was mended is named."""
    out = built(tmp_path, write(tmp_path), capsys)
    assert out.code == 0, out.text
    assert out.outcome == outcome, out.text
    assert {one["id"] for one in out.findings} == named
    assert out.hectares() == pytest.approx(cases.AREA_HA, rel=1e-6)
    assert out.given() == cases.RATES
    assert out.said["products"][0]["total_given"] == pytest.approx(1147.5, rel=1e-6)


@pytest.mark.parametrize(
    ("write", "rate"),
    [
        pytest.param(formats.write_flatgeobuf, "rate", id="FlatGeobuf"),
        pytest.param(formats.write_kml, "rate", id="KML"),
        pytest.param(formats.write_kmz, "rate", id="KMZ"),
        pytest.param(formats.write_parquet, "rate", id="GeoParquet"),
        pytest.param(formats.write_raster_of_rates, "value", id="GeoTIFF"),
    ],
)
def test_every_format_gives_the_same_map(
    write: Callable[[Path], Path], rate: str, tmp_path: Path, capsys: Capture
) -> None:
    """The same zones at the same rates; a raster's are named by their values."""
    out = built(tmp_path, write(tmp_path), capsys, name="value" if rate == "value" else "zone", column=rate)
    assert out.code == 0, out.text
    named = {str(kg_ha): kg_ha for kg_ha in cases.RATES.values()} if rate == "value" else cases.RATES
    assert out.given() == named
    assert list(out.hectares().values()) == pytest.approx(list(cases.AREA_HA.values()), rel=1e-6)
    assert {one["id"] for one in out.findings} <= {"crs-unknown"}  # the raster's grid has no code


def test_a_value_of_a_raster_that_looks_like_no_data(tmp_path: Path, capsys: Capture) -> None:
    """Five columns of -9999 in the east, 50 m by 250 m: said with their share, no zone, and told as a gap."""
    cells = formats.raster_of_rates()
    cells[:, 37:] = -9999
    path = formats.write_raster(tmp_path / "index.tif", cells)
    out = built(tmp_path, path, capsys, name="value", column="value")
    assert out.outcome == "warn"
    assert "-9999 in 125 of 1050 cells (11.9 %)" in out.named("raster-no-data")[0]["message"]
    assert out.hectares()["140"] == pytest.approx(cases.AREA_HA["C"] - 1.25, rel=1e-6)
    assert sum(one["area_m2"] for one in out.named("gap")) == pytest.approx(50 * 250, rel=1e-5)


def test_a_raster_whose_rows_run_with_the_crop(tmp_path: Path, capsys: Capture) -> None:
    """Cells of 10 m turned by a 3-4-5 triangle, 5 by 4 of each rate: 0.2 ha each, well within the field."""
    cells = np.repeat([[85, 115]], 4, axis=0).repeat(5, axis=1).astype(np.uint8)
    path = formats.write_raster(tmp_path / "rows.tif", cells, place=(8.0, 6.0, -50.0, 6.0, -8.0, 120.0))
    out = built(tmp_path, path, capsys, name="value", column="value", boundary="rows.tif")
    assert out.code == 0, out.text
    assert out.hectares() == pytest.approx({"85": 0.2, "115": 0.2}, rel=1e-6)
    assert "rotated" in out.named("raster-rotated")[0]["message"]


@pytest.mark.parametrize(
    ("write", "words"),
    [
        pytest.param(cases.write_no_prj, ("crs =", ".prj", "reproject"), id="no CRS: the three ways to say it"),
        pytest.param(cases.write_swapped, ("latitude", "longitude"), id="latitude first"),
    ],
)
def test_what_can_not_be_placed_is_refused(
    write: Callable[[Path], Path], words: tuple[str, ...], tmp_path: Path, capsys: Capture
) -> None:
    """The build ends with 2, names the file and the way out, and writes nothing."""
    path = write(tmp_path)
    out = built(tmp_path, path, capsys)
    assert out.code == 2
    assert path.name in out.text
    for word in words:
        assert word in out.text.lower()
    assert not (tmp_path / "plan-bundle").exists()


def test_a_crs_that_the_plan_says_settles_a_missing_prj(tmp_path: Path, capsys: Capture) -> None:
    """With crs in [zones] the same file has its true areas."""
    path = cases.write_no_prj(tmp_path)
    out = built(tmp_path, path, capsys, zone_keys=f'crs = "{cases.UTM}"')
    assert out.code == 0
    assert out.hectares() == pytest.approx(cases.AREA_HA, rel=1e-6)


def test_names_in_windows_1252_find_their_rates(tmp_path: Path, capsys: Capture) -> None:
    """Names of zones are read as they were typed, and the table's names match them."""
    path = cases.write_cp1252(tmp_path)
    table = '"Señal – norte" = "85 kg/ha", "Fossé d’eau" = "115 kg/ha", "Hügel" = "140 kg/ha"'
    rates = f'[[rate]]\nproduct = "Granular"\nby = "table"\ntable = {{ {table} }}\n'
    out = built(tmp_path, path, capsys, rates=rates)
    assert out.code == 0, out.text
    assert out.given() == {"Señal – norte": 85, "Fossé d’eau": 115, "Hügel": 140}
    assert not out.named("rate-unmatched")


def test_names_on_either_side_without_the_other_are_reported(tmp_path: Path, capsys: Capture) -> None:
    """A rate for a zone that is not there, and a zone without a rate, are both named."""
    rates = (
        '[[rate]]\nproduct = "Granular"\nby = "table"\ntable = { A = "85 kg/ha", B = "115 kg/ha", D = "90 kg/ha" }\n'
    )
    out = built(tmp_path, cases.write_plain(tmp_path), capsys, rates=rates)
    assert out.code == 1
    assert "'D'" in out.named("rate-unmatched")[0]["message"]
    assert "C" in out.named("rate-missing")[0]["message"]


def test_cells_without_a_rate_stop_the_build(tmp_path: Path, capsys: Capture) -> None:
    """Blank, asterisks, -9999 and words are no rates; the true 0 is one, and none of them turns into a 0."""
    out = built(tmp_path, cases.write_bad_cells(tmp_path), capsys, top='overlaps = "lowest"')
    assert out.code == 1
    assert len(out.named("rate-missing")[0]["features"]) == 2
    assert len(out.named("rate-no-data-code")[0]["features"]) == 1
    assert len(out.named("rate-not-a-number")[0]["features"]) == 3
    assert not (tmp_path / "plan-bundle").exists()


def test_rates_typed_as_text_are_read_only_where_clean(tmp_path: Path, capsys: Capture) -> None:
    """12,5 and 12 gal and n/a and 1,250 are refused; 12.5 is a rate."""
    out = built(tmp_path, cases.write_text_rates(tmp_path), capsys)
    assert out.code == 1
    assert sorted(at for one in out.named("rate-not-a-number") for at in one["features"]) == [1, 2, 4, 5]


@pytest.mark.parametrize("no_data", ["refuse", "off", "default"])
def test_nan_and_infinity_are_no_rates(no_data: str, tmp_path: Path, capsys: Capture) -> None:
    """Bare NaN and Infinity of a GeoJSON stop the build by zone, whatever the plan says of zones without data."""
    rates = f'[[rate]]\nproduct = "Granular"\nby = "column"\ncolumn = "rate"\nunit = "kg/ha"\nno_data = "{no_data}"\n'
    out = built(tmp_path, cases.write_nan(tmp_path), capsys, rates=rates)
    assert out.code == 1
    assert out.named("rate-not-a-number")[0]["features"] == [2, 3]
    assert not (tmp_path / "plan-bundle").exists()


def test_a_blank_cell_follows_the_plan(tmp_path: Path, capsys: Capture) -> None:
    """An empty rate stops the build, or is off, or takes the default rate, as no_data says."""
    path = cases.write_shapefile(
        tmp_path, "bench", cases._zones(cases.UTM), [["A", "85.00"], ["B", ""], ["C", "140.00"]]
    )
    product = SPREADER + 'default = "60 kg/ha"\n'
    rates = '[[rate]]\nproduct = "Granular"\nby = "column"\ncolumn = "RATE"\nunit = "kg/ha"\nno_data = "{}"\n'
    refused = built(tmp_path, path, capsys, products=product, rates=rates.format("refuse"))
    assert (refused.code, refused.named("rate-missing")[0]["features"]) == (1, [2])
    for no_data, given in (("off", 0), ("default", 60)):
        out = built(tmp_path, path, capsys, "--force", products=product, rates=rates.format(no_data))
        assert out.code == 0
        assert out.given() == {"A": 85, "B": given, "C": 140}
        assert out.wanted() == {"A": 85, "B": None, "C": 140}


def test_a_bow_tie_counts_both_lobes(tmp_path: Path, capsys: Capture) -> None:
    """A zone that crosses itself is two triangles of 1.125 ha; the rest of its rectangle is a gap."""
    out = built(tmp_path, cases.write_bowtie(tmp_path), capsys)
    assert out.code == 0
    assert out.named("invalid-shape")[0]["severity"] == "caution"
    assert out.hectares()["A"] == pytest.approx(2.25, rel=1e-6)
    assert sum(one["area_m2"] for one in out.named("gap")) == pytest.approx(22500, rel=1e-6)


def test_repairs_may_be_refused(tmp_path: Path, capsys: Capture) -> None:
    """With repairs = "refuse" the same bow-tie stops the build."""
    out = built(tmp_path, cases.write_bowtie(tmp_path), capsys, top='repairs = "refuse"')
    assert out.code == 1
    assert out.named("invalid-shape")[0]["severity"] == "stop"


def test_a_repair_that_moves_nothing_is_not_refused(tmp_path: Path, capsys: Capture) -> None:
    """A spike without width in zone A moves no ground: a note, and no stop though repairs are refused."""
    west, east, north = cases.EDGES_M[0], cases.EDGES_M[1], cases.HEIGHT_M
    spike = [
        (west, 0.0),
        (east, 0.0),
        (east, north),
        (-100.0, north),
        (-100.0, 150.0),
        (-100.0, north),
        (west, north),
        (west, 0.0),
    ]
    rings = {"A": spike, "B": cases.zone_ring("B"), "C": cases.zone_ring("C")}
    zones = [cases.feature(cases.polygon(rings[zone]), zone=zone, rate=rate) for zone, rate in cases.RATES.items()]
    cases.write_boundary(tmp_path)
    path = cases.write_geojson(tmp_path / "zones.geojson", zones)
    out = built(tmp_path, path, capsys, top='repairs = "refuse"')
    assert (out.code, [one["severity"] for one in out.named("invalid-shape")]) == (0, ["note"])
    assert out.hectares()["A"] == pytest.approx(cases.AREA_HA["A"], rel=1e-6)


@pytest.mark.parametrize(
    ("rule", "given"),
    [
        pytest.param("first", 85, id="the first in the file"),
        pytest.param("lowest", 85, id="the lowest"),
        pytest.param("highest", 115, id="the highest"),
    ],
)
def test_an_overlap_is_a_piece_of_its_own(rule: str, given: float, tmp_path: Path, capsys: Capture) -> None:
    """15 m by 250 m belong to A and B: 0.375 ha, counted once, decided by the plan's rule."""
    zones, _ = cases.write_overlap(tmp_path)
    out = built(tmp_path, zones, capsys, top=f'overlaps = "{rule}"')
    assert out.code == 0
    assert out.hectares() == pytest.approx({"A": 4.5, "A+B": 0.375, "B": 2.625, "C": 3.0}, rel=1e-6)
    assert out.given()["A+B"] == given


def test_an_overlap_with_two_rates_is_refused_unless_said(tmp_path: Path, capsys: Capture) -> None:
    """3.6 % of the field with two rates is more than a slip of the pen."""
    zones, _ = cases.write_overlap(tmp_path)
    out = built(tmp_path, zones, capsys)
    assert out.code == 1
    assert out.named("overlap")[0]["area_m2"] == pytest.approx(3750, rel=1e-6)


def test_a_gap_is_named_and_a_sliver_closed(tmp_path: Path, capsys: Capture) -> None:
    """A gap of 10 m is a caution of 0.25 ha; one of 0.2 m joins a neighbour, and no ground is lost."""
    zones, _ = cases.write_gap_and_sliver(tmp_path)
    out = built(tmp_path, zones, capsys)
    assert out.outcome == "warn"
    assert [one["area_m2"] for one in out.named("gap")] == pytest.approx([2500], rel=1e-5)
    assert [one["area_m2"] for one in out.named("sliver")] == pytest.approx([50], rel=1e-3)
    assert sum(out.hectares().values()) == pytest.approx(10.5, rel=1e-6)


def holed(*holes: tuple[float, float, float, float]) -> list[Any]:
    """The zones as drawn, A with gaps in it, west, south, east and north in metres."""
    rings = [cases.rectangle(*hole, clockwise=True) for hole in holes]
    return [
        cases.feature(cases.polygon(cases.zone_ring(name), *(rings if name == "A" else [])), zone=name, rate=85)
        for name in cases.AREA_HA
    ]


def test_a_compact_gap_is_as_wide_as_it_is_drawn(tmp_path: Path, capsys: Capture) -> None:
    """A gap of 8 m by 11 m amid a zone is 8 m wide, and joins it."""
    zones = cases.write_geojson(tmp_path / "z.geojson", holed((-150.0, 100.0, -142.0, 111.0)))
    out = built(tmp_path, zones, capsys)
    (sliver,) = out.named("sliver")
    assert "1 gap between zones too small to treat, 88.00 m2" in sliver["message"]
    assert "up to 8.00 m" in sliver["message"]
    assert out.hectares() == pytest.approx(cases.AREA_HA, rel=1e-6)


def test_many_gaps_are_told_together(tmp_path: Path, capsys: Capture) -> None:
    """Of fifteen gaps the twelve largest come each with its place, the three others in one finding."""
    gaps = [
        (-200.0 + 30 * (at % 5), 50.0 + 40 * (at // 5), -180.0 + 30 * (at % 5), 70.0 + at + 40 * (at // 5))
        for at in range(15)
    ]
    out = built(tmp_path, cases.write_geojson(tmp_path / "z.geojson", holed(*gaps)), capsys)
    found = out.named("gap")
    assert [one["severity"] for one in found] == ["caution"] * 13
    sizes = [20.0 * (20 + at) for at in range(15)]
    assert [one["area_m2"] for one in found] == pytest.approx([*sizes[:2:-1], sum(sizes[:3])], rel=1e-4)
    assert found[12]["message"].startswith("3 more gaps in the field, ")
    ((longitude, latitude),) = cases.moved([(-70.0, 138.0)], "EPSG:4326")  # in the largest, the last one of its row
    said = re.search(r"longitude (-?[\d.]+), latitude (-?[\d.]+)", found[0]["message"])
    assert said is not None
    assert [float(one) for one in said.groups()] == pytest.approx([longitude, latitude], abs=2e-4)


def test_a_sliver_in_a_keep_out_is_not_counted(tmp_path: Path, capsys: Capture) -> None:
    """Of two gaps, 0.2 m between A and B and 0.5 m between B and C, the second lies where no product may go."""
    rings = {
        "A": cases.rectangle(-210.0, 0.0, -30.2, cases.HEIGHT_M),
        "B": cases.rectangle(-30.0, 0.0, 90.0, cases.HEIGHT_M),
        "C": cases.rectangle(90.5, 0.0, 210.0, cases.HEIGHT_M),
    }
    zones = cases.write_geojson(
        tmp_path / "z.geojson", [cases.feature(cases.polygon(ring), zone=name, rate=85) for name, ring in rings.items()]
    )
    write_box(tmp_path / "ditch.geojson", 85.0, -5.0, 95.0, cases.HEIGHT_M + 5.0)
    (sliver,) = built(tmp_path, zones, capsys, rest=keep_out("ditch.geojson")).named("sliver")
    assert sliver["message"].startswith("1 gap between zones too small to treat, 50.00 m2 (538.2 ft2) in all")
    assert "up to 0.20 m (0.7 ft) wide" in sliver["message"]
    assert sliver["area_m2"] == pytest.approx(50, rel=1e-3)


def test_a_zone_far_from_the_field_is_not_looked_at(tmp_path: Path, capsys: Capture) -> None:
    """A map of the whole farm may have a bow-tie 5 km off: nothing is said of it, nor mended, nor treated."""
    bow = [(5000.0, 0.0), (5100.0, 100.0), (5100.0, 0.0), (5000.0, 100.0), (5000.0, 0.0)]
    features = [*cases._zone_features(), cases.feature(cases.polygon(bow), zone="Far", rate=85)]
    out = built(tmp_path, cases.write_geojson(tmp_path / "farm.geojson", features), capsys)
    assert out.findings == []
    assert out.hectares() == pytest.approx(cases.AREA_HA, rel=1e-6)


def test_heights_and_parts(tmp_path: Path, capsys: Capture) -> None:
    """Heights are left out and noted, and a zone of two parts goes out as two polygons."""
    out = built(tmp_path, cases.write_heights_and_parts(tmp_path), capsys)
    assert out.code == 0
    assert out.named("has-z")
    assert out.hectares()["C"] == pytest.approx(2.45, rel=1e-6)
    with shapefile.Reader(str(out.file("shapefile"))) as reader:
        assert reader.shapeType == shapefile.POLYGON
        assert sum(record[0] == 140 for record in reader.records()) == 2


def test_a_hole_is_a_hole_whichever_way_it_is_wound(tmp_path: Path, capsys: Capture) -> None:
    """10.5 ha less a hole of 0.2 ha: the hole is a gap in the zone, not ground of it."""
    out = built(tmp_path, cases.write_hole_wound_wrong(tmp_path), capsys)
    assert out.hectares()["A"] == pytest.approx(10.5 - cases.HOLE_HA, rel=1e-6)
    assert [one["area_m2"] for one in out.named("gap")] == pytest.approx([cases.HOLE_HA * 1e4], rel=1e-5)


def test_two_files_in_two_grids_join_along_their_edge(tmp_path: Path, capsys: Capture) -> None:
    """West in UTM 14 and east in UTM 15, 5.25 ha each, with neither gap nor sliver between."""
    out = built(tmp_path, cases.write_two_utm_zones(tmp_path), capsys)
    assert out.code == 0
    assert out.hectares() == pytest.approx({"West": 5.25, "East": 5.25}, rel=2e-6)
    assert not out.named("gap")
    assert not out.named("sliver")


def test_a_geojson_in_metres_goes_out_in_degrees(tmp_path: Path, capsys: Capture) -> None:
    """The old crs member is read, and not written. Source: RFC 7946, section 4."""
    out = built(tmp_path, cases.write_legacy_crs(tmp_path), capsys)
    written = json.loads(out.file("geojson").read_text(encoding="utf-8"))
    assert "crs" not in written
    west, south, east, north = shapely.total_bounds(
        [shapely.geometry.shape(one["geometry"]) for one in written["features"]]
    )
    assert -96.01 < west < east < -95.99
    assert 40.04 < south < north < 40.06


def test_points_can_not_be_zones(tmp_path: Path, capsys: Capture) -> None:
    """A table of points, commas, semicolons and all, is read, and refused as zones in words."""
    path = cases.write_semicolon_csv(tmp_path)
    out = built(tmp_path, path, capsys, name="", column="Clay")
    assert out.code == 2
    assert "Traceback" not in out.stderr


def test_lines_are_no_zones(tmp_path: Path, capsys: Capture) -> None:
    """Zones drawn as lines hold no ground."""
    write_line(tmp_path / "lines.geojson", cases.zone_ring("A"))
    out = built(tmp_path, tmp_path / "lines.geojson", capsys, name="", column="rate")
    assert out.code == 2


def test_long_column_names_stay_apart(tmp_path: Path, capsys: Capture) -> None:
    """Two products whose names begin alike get two columns, and each keeps its own rates."""
    names = ("PHOSPHATE_SPRING_ONE", "PHOSPHATE_SPRING_TWO")
    products = "".join(SPREADER.replace('"Granular"', f'"{name}"') for name in names)
    rates = "".join(
        f'[[rate]]\nproduct = "{name}"\nby = "table"\ntable = {{ A = "{a} kg/ha", B = "{b} kg/ha", C = "{c} kg/ha" }}\n'
        for name, (a, b, c) in zip(names, ((25, 50, 75), (200, 100, 150)), strict=True)
    )
    rest = '[receiver]\nformats = ["shapefile"]\nfiles = "one column a product"\n'
    out = build_plan(tmp_path, bench(tmp_path, products=products, rates=rates, rest=rest), capsys)
    assert out.code == 0, out.text
    with shapefile.Reader(str(out.file("shapefile"))) as reader:
        fields = [field[0] for field in reader.fields if field[0] != "DeletionFlag"]
        records = sorted(tuple(record) for record in reader.records())
    assert len(set(fields)) == 2
    assert max(map(len, fields)) <= 10
    assert records == [(25, 200), (50, 100), (75, 150)]


def test_a_rate_that_does_not_fit_the_receiver_is_never_cut(tmp_path: Path, capsys: Capture) -> None:
    """140 does not go into two digits: the build stops, and without that limit 140 comes back."""
    out = build_plan(tmp_path, bench(tmp_path, rest="[receiver]\nrate_width = 2\n"), capsys)
    assert out.code == 1
    assert not (tmp_path / "plan-bundle").exists()
    wide = build_plan(tmp_path, bench(tmp_path), capsys)
    with shapefile.Reader(str(wide.file("shapefile"))) as reader:
        assert sorted(record[0] for record in reader.records()) == [85, 115, 140]


def test_limits_change_rates_and_say_so(tmp_path: Path, capsys: Capture) -> None:
    """85 is raised to 100 and 140 lowered to 120, each named with what it does to the total: +67.5 and -60 kg."""
    product = SPREADER.replace('"20 kg/ha"', '"100 kg/ha"').replace('"200 kg/ha"', '"120 kg/ha"')
    out = build_plan(tmp_path, bench(tmp_path, products=product), capsys)
    assert out.code == 0
    assert out.given() == {"A": 100, "B": 115, "C": 120}
    assert "+67.5" in out.named("rate-below-min")[0]["message"]
    assert "-60" in out.named("rate-above-max")[0]["message"]
    said = out.said["products"][0]
    assert said["total_given"] - said["total_wanted"] == pytest.approx(7.5, rel=1e-5)


def test_pounds_of_nutrient_become_gallons_of_product(tmp_path: Path, capsys: Capture) -> None:
    """84 lb N/ac of 28 % N at 10 lb/gal are 84 / (0.28 x 10) = 30 gal/ac; without analysis it is refused."""
    bare = (
        '[[product]]\nname = "Solution"\nform = "liquid"\nuse = "fertiliser"\nmin = "1 us_gal/ac"\n'
        'max = "90 us_gal/ac"\nstep = "0.5 us_gal/ac"\n'
    )
    known = 'density = "10 lb/us_gal"\nanalysis = { N = "28 %" }\n'
    rates = '[[rate]]\nproduct = "Solution"\nby = "column"\ncolumn = "rate"\nunit = "lb N/ac"\n'
    out = build_plan(tmp_path, bench(tmp_path, products=bare + known, rates=rates), capsys)
    assert out.code == 0, out.text
    assert out.wanted() == pytest.approx({"A": 85 / 2.8, "B": 115 / 2.8, "C": 140 / 2.8}, rel=1e-12)
    assert out.given() == {"A": 30.5, "B": 41, "C": 50}
    refused = build_plan(tmp_path, bench(tmp_path, products=bare, rates=rates), capsys, "--force")
    assert refused.code == 2
    assert "analysis" in refused.text
