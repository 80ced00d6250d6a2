"""Small files that go wrong: each must come out as its case.json says, through the build that uses its inputs.

Source: the reference cases beside the project, synthetic, with areas known on the ellipsoid.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
import rasterio
import shapefile
import shapely
from support_plans import GRANULAR, Outcome, build_plan, plan_text

CASES = Path(__file__).resolve().parents[3] / "shared" / "cases"

LIQUID_US = """
[[product]]
name = "Liquid"
form = "liquid"
use = "fertiliser"
min = "1 us_gal/ac"
max = "2000 us_gal/ac"
step = "0.5 us_gal/ac"
"""


class Case:
    """A case, with its files copied to where nothing can harm them."""

    def __init__(self, name: str, folder: Path) -> None:
        self.source = CASES / name
        if not self.source.is_dir():
            pytest.skip("the folder of reference cases is not beside the project")
        self.folder = folder / name
        shutil.copytree(self.source, self.folder)
        self.said: dict[str, Any] = json.loads((self.folder / "case.json").read_text(encoding="utf-8"))
        self.expected = self.said["expected"]
        self.values = self.expected["values"]

    def plan(self, **changes: Any) -> str:
        inputs = self.said["inputs"]
        # The shapefiles of the cases spell their fields in capitals.
        first = inputs["zones"] if isinstance(inputs["zones"], str) else inputs["zones"][0]
        capitals = first.endswith((".shp", ".zip"))
        keys: dict[str, Any] = {
            "zones": inputs["zones"],
            "boundary": inputs.get("boundary", inputs["zones"]),
            "name": "ZONE" if capitals else "zone",
            "column": "RATE" if capitals else "rate",
        }
        return plan_text(**(keys | changes))

    def judge(self, out: Outcome) -> None:
        """The outcome is one that the case accepts, and its words are said."""
        accepted = {self.expected["outcome"], *self.expected["also_acceptable"]}
        assert out.outcome in accepted, out.text
        for word in self.expected["message_should_mention"]:
            assert word.lower() in out.text.lower(), (word, out.text)
        if out.outcome == "refuse":
            assert not list(self.folder.glob("*-bundle")), "something was written"

    def near(self, value: object) -> object:
        return pytest.approx(value, rel=self.expected["tolerance"]["areas_goal_relative"])


@pytest.fixture
def case(request: pytest.FixtureRequest, tmp_path: Path) -> Case:
    return Case(request.param, tmp_path)


def for_case(name: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("case", [name], indirect=True)


@pytest.mark.parametrize(
    "case",
    [
        "S02-prj-vendor-wkt",
        "S04-stateplane-usft",
        "S05-web-mercator-area",
        "S07-geojson-legacy-crs",
        "S12-dbf-deleted-record",
        "S13-no-shx",
        "S20-null-empty-geometry",
        "S21-z-and-mixed-parts",
        "S25-zip-nested-uppercase-macosx",
    ],
    indirect=True,
)
def test_zones_come_out_with_their_true_areas(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever the file's CRS and defects, each zone has its true area, and the total is theirs."""
    out = build_plan(case.folder, case.plan(), capsys)
    case.judge(out)
    assert out.hectares() == case.near(case.values["area_ha_by_zone"])
    if "total_ha" in case.values:
        assert out.said["field"]["geodesic_area_m2"] / 1e4 == case.near(case.values["total_ha"])
    if "product_kg" in case.values:
        assert out.said["products"][0]["total_given"] == case.near(case.values["product_kg"])
    if "mean_rate_area_weighted" in case.values:
        product = out.said["products"][0]
        mean = product["total_given"] / product["geodesic_area_m2"] * 1e4
        assert mean == case.near(case.values["mean_rate_area_weighted"])


@for_case("S01-shp-no-prj")
def test_no_crs_is_refused_and_settled_in_the_plan(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """A shapefile without a .prj is refused; with crs in the plan its areas are right."""
    case.judge(build_plan(case.folder, case.plan(), capsys))
    out = build_plan(case.folder, case.plan(crs="EPSG:32615"), capsys)
    assert out.code == 0
    assert out.hectares() == case.near(case.values["area_ha_by_zone_if_user_says_EPSG:32615"])
    assert sum(out.hectares().values()) == case.near(case.values["total_ha_if_user_says_EPSG:32615"])


@for_case("S03-latlon-swapped")
def test_swapped_axes_are_refused(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """A GeoJSON with latitude first is refused, and swapped back it has the right areas."""
    case.judge(build_plan(case.folder, case.plan(), capsys))
    path = case.folder / "zones.geojson"
    data = json.loads(path.read_text(encoding="utf-8"))
    for feature in data["features"]:
        rings = feature["geometry"]["coordinates"]
        feature["geometry"]["coordinates"] = [[[x, y] for y, x in ring] for ring in rings]
    path.write_text(json.dumps(data), encoding="utf-8")
    out = build_plan(case.folder, case.plan(), capsys)
    assert out.hectares() == case.near(case.values["area_ha_by_zone_after_swap_back"])


@for_case("S06-two-utm-zones")
def test_two_files_in_two_grids_are_one_field(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """Two shapefiles, each in its own UTM zone, join along their shared edge."""
    out = build_plan(case.folder, case.plan(), capsys)
    case.judge(out)
    assert out.hectares() == case.near(case.values["area_ha_by_zone"])
    assert not out.named("gap")
    assert not out.named("sliver")


@for_case("S07-geojson-legacy-crs")
def test_export_is_in_longitude_and_latitude(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """A GeoJSON in metres with the old crs member goes out in WGS 84 without one."""
    out = build_plan(case.folder, case.plan(), capsys)
    written = json.loads(out.file("geojson").read_text(encoding="utf-8"))
    assert "crs" not in written
    shapes = [shapely.geometry.shape(feature["geometry"]) for feature in written["features"]]
    printed_to_6_decimals = pytest.approx(case.values["export_bounds_lonlat"], abs=5e-7)
    assert list(shapely.total_bounds(shapes)) == printed_to_6_decimals


@for_case("S08-field-name-collision")
def test_columns_of_two_products_stay_apart(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """Two long column names become two short ones, and each keeps its own rates."""
    names = ["RATE_KG_HA_NITROGEN", "RATE_KG_HA_PHOSPHATE"]
    products = "".join(GRANULAR.replace('"Granular"', f'"{name}"') for name in names)
    rates = "".join(
        f'[[rate]]\nproduct = "{name}"\nby = "column"\ncolumn = "{name}"\nunit = "kg/ha"\n' for name in names
    )
    rest = '[receiver]\nformats = ["shapefile"]\nfiles = "one column a product"\n'
    out = build_plan(case.folder, case.plan(products=products, rates=rates, rest=rest), capsys)
    case.judge(out)
    totals = [product["total_given"] for product in out.said["products"]]
    assert totals == case.near([case.values["nitrogen_kg_total"], case.values["phosphate_kg_total"]])
    with shapefile.Reader(str(out.file("shapefile"))) as reader:
        fields = [field[0] for field in reader.fields if field[0] != "DeletionFlag"]
        records = sorted(tuple(record) for record in reader.records())
    assert len(set(fields)) == 2
    assert max(map(len, fields)) <= case.values["exported_names_unique_and_at_most"]
    assert records == [(90, 40), (120, 25), (150, 10)]


@for_case("S09-dbf-null-zero-sentinel")
def test_no_value_is_not_zero(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """Blanks, stars and -9999 are no rates; a true 0 is one; what they mean is for the person to say."""
    out = build_plan(case.folder, case.plan(), capsys)
    case.judge(out)
    assert len(out.named("rate-missing")[0]["features"]) == case.values["n_null"]
    assert len(out.named("rate-no-data-code")[0]["features"]) == case.values["n_sentinel"]
    area = sum(one["area_m2"] for one in out.findings if one["id"] in {"rate-missing", "rate-no-data-code"})
    assert area / 1e4 == case.near(case.values["area_ha_without_rate"])
    assert sum(rate == 0 for rate in out.wanted().values()) == case.values["n_true_zero"]
    off = build_plan(case.folder, case.plan() + 'no_data = "off"\n', capsys)
    assert off.code == 0
    assert off.said["products"][0]["total_given"] == case.near(case.values["product_kg_from_valid_rows_only"])


@for_case("S10-dbf-bad-number-text")
def test_odd_text_in_number_cells_is_never_a_rate(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """1.#QNAN, 1.#IND00, NULL and 12,5 are refused by zone and text; a declared decimal comma settles the last."""
    out = build_plan(case.folder, case.plan(), capsys)
    case.judge(out)
    bad = out.named("rate-not-a-number")[0]
    assert len(bad["features"]) == case.values["n_invalid"]
    assert out.said["products"][0]["total_wanted"] == case.near(case.values["product_kg_from_valid_rows_only"])
    comma = build_plan(case.folder, case.plan(zone_keys='decimal = ","'), capsys)
    assert comma.wanted()["D"] == case.values["if_decimal_comma_declared"]["D"]
    assert comma.wanted()["E"] == 120


@for_case("S11-cp1252-no-cpg")
def test_names_in_windows_1252_match_the_rates(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """Zone names of a shapefile without .cpg are read as people wrote them, and all find their rates."""
    rates = '[[rate]]\nproduct = "Granular"\nby = "table"\ntable = "rates.csv"\nunit = "kg/ha"\n'
    out = build_plan(case.folder, case.plan(rates=rates), capsys)
    case.judge(out)
    assert sorted(out.hectares()) == sorted(case.values["zone_names"])
    assert not out.named("rate-missing")
    assert not out.named("rate-unmatched")
    assert out.said["products"][0]["total_given"] == case.near(case.values["product_kg"])


@for_case("S13-no-shx")
def test_nothing_is_written_beside_the_input(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """A missing index is not written into the user's folder."""
    build_plan(case.folder, case.plan(), capsys, "--out", str(case.folder.parent / "elsewhere"))
    assert {one.name for one in case.folder.iterdir()} == {one.name for one in case.source.iterdir()} | {"plan.toml"}


@for_case("S14-text-rates")
def test_rates_typed_as_text_are_read_only_where_clean(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """12,5 and 12 gal and n/a and 1,250 are refused each by name; 12.5 is a rate."""
    rates = '[[rate]]\nproduct = "Liquid"\nby = "column"\ncolumn = "RATE"\nunit = "US gal/ac"\n'
    plan = {"products": LIQUID_US, "rates": rates}
    out = build_plan(case.folder, case.plan(**plan), capsys)
    case.judge(out)
    assert {zone: rate for zone, rate in out.wanted().items() if rate is not None} == case.values["clean_cells"]
    comma = build_plan(case.folder, case.plan(**plan, zone_keys='decimal = ","'), capsys)
    assert comma.wanted()["A"] == case.values["if_decimal_comma_declared"]["A"]
    assert comma.wanted()["E"] is None


@for_case("S15-export-width")
def test_a_rate_that_does_not_fit_is_never_cut(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """102500 does not go into five digits; without that limit it comes back whole."""
    field = json.loads((case.folder / "template.json").read_text())["rate_field"]
    rest = f"[receiver]\nrate_width = {field['width']}\nrate_decimals = {field['decimals']}\n"
    case.judge(build_plan(case.folder, case.plan(rest=rest), capsys))
    out = build_plan(case.folder, case.plan(), capsys)
    with shapefile.Reader(str(out.file("shapefile"))) as reader:
        assert sorted(record[0] for record in reader.records()) == sorted(
            case.values["rates_after_roundtrip_if_widened"]
        )


@for_case("S16-bowtie")
def test_a_bow_tie_counts_both_lobes(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """A zone that crosses itself has the area of both lobes, and the repair is said."""
    out = build_plan(case.folder, case.plan(), capsys)
    case.judge(out)
    assert out.hectares() == case.near(case.values["area_ha_by_zone"])
    assert out.said["products"][0]["total_given"] == case.near(case.values["product_kg"])


@for_case("S17-make-valid-collection")
def test_a_spur_leaves_a_polygon(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """An out-and-back edge is dropped, and two plain polygons go out."""
    out = build_plan(case.folder, case.plan(), capsys)
    case.judge(out)
    assert out.hectares() == case.near(case.values["area_ha_by_zone"])
    with shapefile.Reader(str(out.file("shapefile"))) as reader:
        assert len(reader) == case.values["exported_features"]


@for_case("S18-overlap-double-count")
def test_an_overlap_is_counted_once_and_named(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """Two zones that overlap with different rates are refused by name, and no ground counts twice."""
    out = build_plan(case.folder, case.plan(), capsys)
    case.judge(out)
    areas = out.hectares()
    assert out.named("overlap")[0]["area_m2"] / 1e4 == case.near(case.values["overlap_ha"]["A+B"])
    assert sum(areas.values()) == case.near(case.values["union_ha"])
    assert sum(areas.values()) + areas["A+B"] == case.near(case.values["sum_ha"])
    settled = build_plan(case.folder, case.plan(top='overlaps = "lowest"'), capsys)
    assert settled.code == 0
    assert settled.given()["A+B"] == 90


@for_case("S19-gap-and-sliver")
def test_a_gap_is_named_and_a_sliver_closed(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """A 12 m gap is a caution with its area; a 0.3 m sliver goes to its neighbour."""
    out = build_plan(case.folder, case.plan(), capsys)
    case.judge(out)
    gap, sliver = out.named("gap"), out.named("sliver")
    assert [one["area_m2"] / 1e4 for one in gap] == case.near([case.values["gap_ha"]])
    # The corners are written to 9 decimals of a degree, 0.1 mm: 4e-4 of a sliver 0.3 m wide.
    assert sliver[0]["area_m2"] / 1e4 == pytest.approx(case.values["sliver_ha"], rel=1e-3)
    assert f"up to {case.values['sliver_width_m']:.2f} m (1.0 ft) wide" in sliver[0]["message"]
    covered = out.said["field"]["geodesic_area_m2"] - gap[0]["area_m2"] - sliver[0]["area_m2"]
    assert covered / 1e4 == case.near(case.values["covered_ha"])


@for_case("S21-z-and-mixed-parts")
def test_heights_do_not_go_out(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """A file with heights and parts goes out as plain polygons."""
    out = build_plan(case.folder, case.plan(), capsys)
    with shapefile.Reader(str(out.file("shapefile"))) as reader:
        assert reader.shapeType == case.values["exported_shape_type"]
        rates = {record[0] for record in reader.records()}
    assert len(rates) == case.values["exported_features"]


@for_case("S22-hole-wound-wrong")
def test_a_hole_is_a_hole_whichever_way_it_is_wound(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """A pond wound like its shore is cut out."""
    out = build_plan(case.folder, case.plan(), capsys)
    case.judge(out)
    assert out.hectares() == case.near(case.values["area_ha_by_zone"])
    assert out.said["products"][0]["total_given"] == case.near(case.values["product_kg"])


@for_case("S23-geojson-nan")
def test_nan_and_infinity_are_no_rates(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """Bare NaN and Infinity are refused by zone."""
    out = build_plan(case.folder, case.plan(), capsys)
    case.judge(out)
    assert len(out.named("rate-not-a-number")[0]["features"]) == case.values["n_invalid"]
    assert out.said["products"][0]["total_wanted"] == case.near(case.values["product_kg_from_valid_rows_only"])


def raster_plan(case: Case) -> str:
    """A plan where a raster is the zones, its cells with data the field, and its values the rates."""
    raster = case.said["inputs"]["raster"]
    return plan_text(zones=raster, boundary=raster, name="value", column="value")


@for_case("S26-raster-nodata-undeclared")
def test_a_value_that_looks_like_no_data_is_no_rate(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """-9999 without a nodata tag is a caution with its share, and the zones are those of the other cells."""
    out = build_plan(case.folder, raster_plan(case), capsys)
    case.judge(out)
    (said,) = out.named("raster-no-data")
    cells = case.values["valid_cells"] + case.values["suspect_cells"] + case.values["nan_cells"]
    assert f"{case.values['suspect_cells']} of {cells} cells" in said["message"]
    wanted = [rate for rate in out.wanted().values() if rate is not None]
    assert [min(wanted), max(wanted)] == [case.values["min_valid"], case.values["max_valid"]]
    product = out.said["products"][0]
    assert product["total_wanted"] / product["geodesic_area_m2"] * 1e4 == case.near(case.values["mean_valid"])
    with rasterio.open(case.folder / case.said["inputs"]["raster"]) as raster:
        cell_m2 = abs(raster.transform.determinant)
    # A UTM grid is up to 1 part in 1,000 off true ground there, a cell in 254 is 4 in 1,000.
    assert round(product["geodesic_area_m2"] / cell_m2) == case.values["valid_cells"]


@for_case("S27-raster-rotated")
def test_a_rotated_raster_lies_where_its_rows_run(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """Rows that run with the crop's have their true areas, and the rotation is said."""
    out = build_plan(case.folder, raster_plan(case), capsys)
    case.judge(out)
    assert out.hectares() == case.near(case.values["area_ha_by_rate"])
    assert sum(out.hectares().values()) == case.near(case.values["footprint_ha"])
    assert out.said["products"][0]["total_given"] == case.near(case.values["product_kg"])


@for_case("S29-rate-limits")
def test_limits_change_rates_and_say_so(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """0 stays 0, 18 is raised, 240 is lowered, each named with what it does to the total."""
    product = json.loads((case.folder / "product.json").read_text())
    products = (
        f'[[product]]\nname = "{product["name"]}"\nform = "granular"\nuse = "fertiliser"\n'
        f"off_allowed = {str(product['zero_allowed']).lower()}\n"
        + "".join(f'{key} = "{product[key]} {product["unit"]}"\n' for key in ("min", "max", "step"))
    )
    rates = f'[[rate]]\nproduct = "{product["name"]}"\nby = "column"\ncolumn = "rate"\nunit = "kg/ha"\n'
    out = build_plan(case.folder, case.plan(products=products, rates=rates), capsys)
    assert out.code == 0
    for word in case.expected["message_should_mention"]:
        assert word in out.text
    assert out.given() == case.values["rates_after"]
    assert out.said["products"][0]["total_wanted"] == case.near(case.values["product_kg_before"])
    assert out.said["products"][0]["total_given"] == case.near(case.values["product_kg_after"])


@for_case("S30-nutrient-vs-product")
@pytest.mark.parametrize(("unit", "key"), [("us_gal/ac", "rate_US_gal_ac"), ("L/ha", "rate_L_ha")])
def test_nutrient_becomes_product(case: Case, unit: str, key: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Pounds of nitrogen become gallons of product by analysis and density; without them they are refused."""
    said = json.loads((case.folder / "product.json").read_text())
    bare = (
        f'[[product]]\nname = "Solution"\nform = "liquid"\nuse = "fertiliser"\nmin = "1 {unit}"\nmax = "900 {unit}"\n'
        f'step = "0.0001 {unit}"\n'
    )
    known = (
        f'density = "{said["density_lb_per_US_gal"]} lb/us_gal"\n'
        f'analysis = {{ N = "{said["analysis_N_pct_by_weight"]} %" }}\n'
    )
    rates = '[[rate]]\nproduct = "Solution"\nby = "column"\ncolumn = "rate_lb_N_ac"\nunit = "lb N/ac"\n'
    out = build_plan(case.folder, case.plan(products=bare + known, rates=rates), capsys)
    case.judge(out)
    assert out.given() == case.near(case.values[key])
    total = case.values["total_US_gal" if "gal" in unit else "total_L"]
    assert out.said["products"][0]["total_given"] == case.near(total)
    refused = build_plan(case.folder, case.plan(products=bare, rates=rates), capsys, "--force")
    assert refused.code == 2
    assert "analysis" in refused.text
