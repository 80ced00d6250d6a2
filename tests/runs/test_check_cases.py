"""Small files that go wrong, put through the check: each gives the findings and numbers that its case.json names.

Source: the reference cases beside the project, synthetic, with areas known on the ellipsoid.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from vrx.cli.main import main

CASES = Path(__file__).resolve().parents[3] / "shared" / "cases"


class Checked:
    """A case put through ``vrx check --json``, and what it printed."""

    def __init__(self, name: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        if not (CASES / name).is_dir():
            pytest.skip("the folder of reference cases is not beside the project")
        self.folder = folder / name
        shutil.copytree(CASES / name, self.folder)
        self.case: dict[str, Any] = json.loads((self.folder / "case.json").read_text(encoding="utf-8"))
        self.expected = self.case["expected"]
        self.values = self.expected["values"]
        self.capsys = capsys
        self.said: dict[str, Any] = {}
        self.code = 0

    def check(self, *options: str) -> Checked:
        inputs, params = self.case["inputs"], self.case["params"]
        named = inputs.get("zones") or inputs["raster"]
        words = [str(self.folder / one) for one in ([named] if isinstance(named, str) else named)]
        if "boundary" in inputs and "--boundary" not in options:
            words += ["--boundary", str(self.folder / inputs["boundary"])]
        if "rate_column" in params:
            words += ["--column", params["rate_column"]]
        if "unit" in params:
            words += ["--unit", params["unit"]]
        self.capsys.readouterr()
        self.code = main(["check", *words, "--json", *options])
        self.said = json.loads(self.capsys.readouterr().out)
        return self

    @property
    def text(self) -> str:
        return "\n".join(f"{one['message']} {one['remedy']}" for one in self.said["findings"])

    @property
    def outcome(self) -> str:
        worst = {one["severity"] for one in self.said["findings"]}
        return "refuse" if "stop" in worst else "warn" if "caution" in worst else "note" if worst else "silent"

    def named(self, name: str) -> list[dict[str, Any]]:
        return [one for one in self.said["findings"] if one["id"] == name]

    def hectares(self) -> dict[float | None, float]:
        return {one["rate"]: one["area_m2"] / 1e4 for one in self.said["map"]["rates"]}

    def near(self, value: object) -> object:
        return pytest.approx(value, rel=self.expected["tolerance"]["areas_goal_relative"])

    def mentions_all(self) -> bool:
        return all(word.lower() in self.text.lower() for word in self.expected["message_should_mention"])


@pytest.fixture
def case(request: pytest.FixtureRequest, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Checked:
    return Checked(request.param, tmp_path, capsys)


def for_case(*names: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("case", names, indirect=True)


@for_case("S04-stateplane-usft", "S05-web-mercator-area", "S25-zip-nested-uppercase-macosx")
def test_sound_maps_are_clear_without_a_word(case: Checked) -> None:
    """Survey feet, Web Mercator and a nested zip: nothing to say, and true areas."""
    case.check("--unit", "kg/ha")
    assert (case.code, case.said["verdict"], case.said["findings"]) == (0, "clear", [])
    assert list(case.hectares().values()) == case.near(list(case.values["area_ha_by_zone"].values()))
    assert case.said["map"]["geodesic_area_m2"] / 1e4 == case.near(case.values["total_ha"])


@pytest.mark.parametrize(
    ("case", "finding", "severity"),
    [
        pytest.param("S02-prj-vendor-wkt", "crs-unknown", "note", id="S02"),
        pytest.param("S06-two-utm-zones", "crs-mixed", "note", id="S06"),
        pytest.param("S07-geojson-legacy-crs", "crs-member", "note", id="S07"),
        pytest.param("S12-dbf-deleted-record", "deleted-record", "note", id="S12"),
        pytest.param("S13-no-shx", "missing-part", "note", id="S13"),
        pytest.param("S17-make-valid-collection", "invalid-shape", "note", id="S17"),
        pytest.param("S20-null-empty-geometry", "no-shape", "caution", id="S20"),
        pytest.param("S21-z-and-mixed-parts", "has-z", "note", id="S21"),
    ],
    indirect=["case"],
)
def test_what_was_noticed_is_said_and_areas_are_true(case: Checked, finding: str, severity: str) -> None:
    """The finding that the case names, in its words, with the severity that its outcome asks for."""
    case.check("--unit", "kg/ha")
    assert case.code == 0
    assert [one["severity"] for one in case.named(finding)][:1] == [severity]
    assert case.outcome == ("warn" if severity == "caution" else "note")
    assert case.mentions_all(), case.text
    areas = [size for rate, size in case.hectares().items() if size]
    assert sorted(areas) == case.near(sorted(case.values["area_ha_by_zone"].values()))
    if "total_ha" in case.values:
        assert case.said["map"]["geodesic_area_m2"] / 1e4 == case.near(case.values["total_ha"])


@for_case("S01-shp-no-prj")
def test_a_map_without_a_crs_stops_until_it_is_said(case: Checked) -> None:
    """It is no riddle where the map lies: a stop with the range of its numbers; with --crs the areas are right."""
    case.check("--unit", "kg/ha")
    assert (case.code, case.said["verdict"]) == (1, "stop")
    assert case.named("no-crs")
    assert case.mentions_all(), case.text
    assert case.said["map"]["geodesic_area_m2"] is None
    case.check("--unit", "kg/ha", "--crs", "EPSG:32615")
    assert case.code == 0
    known = case.values["area_ha_by_zone_if_user_says_EPSG:32615"]
    assert list(case.hectares().values()) == case.near(list(known.values()))


@for_case("S03-latlon-swapped")
def test_swapped_axes_stop(case: Checked) -> None:
    """Latitude first is impossible, and said to look swapped."""
    case.check()
    assert case.code == 1
    assert [one["severity"] for one in case.named("crs-suspect")] == ["stop"]
    assert case.mentions_all(), case.text


@for_case("S08-field-name-collision")
def test_two_rate_columns_are_never_chosen_between(case: Checked) -> None:
    """A stop lists both with their ranges; one is named, and it is said that cut to ten letters they are one."""
    case.check()
    assert case.code == 1
    (unclear,) = case.named("rate-column-unclear")
    assert "RATE_KG_HA_NITROGEN" in unclear["message"]
    assert "RATE_KG_HA_PHOSPHATE" in unclear["message"]
    case.check("--column", "RATE_KG_HA_NITROGEN")
    assert (case.code, case.outcome) == (0, "note")
    assert case.mentions_all(), case.text
    total = sum((rate or 0) * size for rate, size in case.hectares().items())
    assert total == case.near(case.values["nitrogen_kg_total"])


@for_case("S09-dbf-null-zero-sentinel")
def test_no_value_is_no_rate(case: Checked) -> None:
    """Blanks, stars and -9999 stop, by zone; a true 0 is a rate."""
    case.check()
    assert case.code == 1
    assert case.mentions_all(), case.text
    assert len(case.named("rate-missing")[0]["features"]) == case.values["n_null"]
    assert len(case.named("rate-no-data-code")[0]["features"]) == case.values["n_sentinel"]
    hectares = case.hectares()
    assert hectares[None] == case.near(case.values["area_ha_without_rate"])
    assert sum((rate or 0) * size for rate, size in hectares.items()) == case.near(
        case.values["product_kg_from_valid_rows_only"]
    )
    assert 0 in hectares


@for_case("S10-dbf-bad-number-text", "S23-geojson-nan")
def test_text_in_number_cells_is_never_a_rate(case: Checked) -> None:
    """1.#QNAN, 1.#IND00, NULL, 12,5, NaN and Infinity stop, by zone."""
    case.check()
    assert case.code == 1
    assert case.mentions_all(), case.text
    assert len(case.named("rate-not-a-number")[0]["features"]) == case.values["n_invalid"]
    total = sum((rate or 0) * size for rate, size in case.hectares().items())
    assert total == case.near(case.values["product_kg_from_valid_rows_only"])


@for_case("S10-dbf-bad-number-text")
def test_a_declared_decimal_comma_is_read(case: Checked) -> None:
    """12,5 is 12.5 once a person says so."""
    case.check("--decimal", ",")
    assert case.values["if_decimal_comma_declared"]["D"] in case.hectares()


@for_case("S11-cp1252-no-cpg")
def test_letters_that_had_to_be_guessed_are_said(case: Checked) -> None:
    """The encoding is noted, and names come out as people wrote them."""
    case.check("--unit", "kg/ha")
    assert case.code == 0
    assert case.named("encoding")
    assert case.mentions_all(), case.text


@for_case("S14-text-rates")
def test_rates_typed_as_text_are_read_only_where_clean(case: Checked) -> None:
    """12,5 and 12 gal and n/a and 1,250 stop, each by name; 12.5 is a rate."""
    case.check()
    assert case.code == 1
    assert case.mentions_all(), case.text
    assert case.values["clean_cells"]["C"] in case.hectares()


@for_case("S15-export-width")
def test_a_rate_wider_than_the_receiver_s_column_stops(case: Checked) -> None:
    """102500 against a column of five digits, as a plan's receiver has it."""
    field = json.loads((case.folder / "template.json").read_text())["rate_field"]
    plan = case.folder / "plan.toml"
    plan.write_text(
        f"""units = "metric"
[field]
name = "North"
boundary = "zones.geojson"
[[product]]
name = "Seed"
form = "seed"
use = "seed"
min = "1000 seeds/ha"
max = "200000 seeds/ha"
step = "500 seeds/ha"
[zones]
from = "zones.geojson"
[[rate]]
product = "Seed"
by = "column"
column = "rate"
unit = "seeds/ha"
[receiver]
rate_width = {field["width"]}
rate_decimals = {field["decimals"]}
""",
        encoding="utf-8",
    )
    case.check("--plan", str(plan))
    assert case.code == 1
    assert case.named("rate-too-wide")
    assert case.mentions_all(), case.text


@for_case("S16-bowtie")
def test_a_bow_tie_is_named_with_its_crossing(case: Checked) -> None:
    """Both lobes count, and the record is named."""
    case.check("--unit", "kg/ha")
    assert case.code == 0
    assert case.named("invalid-shape")
    assert case.mentions_all(), case.text
    total = sum((rate or 0) * size for rate, size in case.hectares().items())
    assert total == case.near(case.values["product_kg"])


@for_case("S18-overlap-double-count")
def test_an_overlap_of_two_rates_stops(case: Checked) -> None:
    """The pair, the ground and both rates are named; the ground that the map covers counts once."""
    case.check("--unit", "kg/ha")
    assert case.code == 1
    (found,) = case.named("overlap")
    assert found["area_m2"] / 1e4 == case.near(case.values["overlap_ha"]["A+B"])
    assert "90 kg/ha" in found["message"]
    assert "140 kg/ha" in found["message"]
    assert case.mentions_all(), case.text
    assert case.said["map"]["geodesic_area_m2"] / 1e4 == case.near(case.values["union_ha"])
    assert sum(case.hectares().values()) == case.near(case.values["sum_ha"])


@for_case("S19-gap-and-sliver")
def test_a_gap_is_a_caution_and_a_sliver_a_note(case: Checked) -> None:
    """A strip of 12 m without a rate has to be looked at; one of 0.3 m is below what a machine does."""
    case.check("--unit", "kg/ha")
    assert case.code == 0
    assert case.outcome == "warn"
    assert [one["area_m2"] / 1e4 for one in case.named("gap")] == case.near([case.values["gap_ha"]])
    (sliver,) = case.named("sliver")
    assert sliver["severity"] == "note"
    # The corners are written to 9 decimals of a degree, 0.1 mm: 4e-4 of a sliver 0.3 m wide.
    assert sliver["area_m2"] / 1e4 == pytest.approx(case.values["sliver_ha"], rel=1e-3)
    assert case.said["map"]["geodesic_area_m2"] / 1e4 == case.near(case.values["covered_ha"])


@for_case("S22-hole-wound-wrong")
def test_a_hole_is_a_hole_whichever_way_it_is_wound(case: Checked) -> None:
    """The pond is cut out, and the winding said."""
    case.check("--unit", "kg/ha")
    assert case.code == 0
    assert case.named("hole-winding")
    assert case.mentions_all(), case.text
    assert case.said["map"]["geodesic_area_m2"] / 1e4 == case.near(case.values["area_ha_by_zone"]["A"])


@for_case("S26-raster-nodata-undeclared")
def test_a_raster_with_a_value_like_no_data_is_a_caution(case: Checked) -> None:
    """-9999 without a nodata tag."""
    case.check("--unit", "kg/ha")
    assert case.outcome in ("warn", "refuse")
    assert case.named("raster-no-data")
    assert case.mentions_all(), case.text


@for_case("S27-raster-rotated")
def test_a_rotated_raster_has_its_true_areas(case: Checked) -> None:
    """The ground of each value, and that the rows run askew is said."""
    case.check("--unit", "kg/ha")
    assert case.code == 0
    assert case.mentions_all(), case.text
    known = {float(rate): size for rate, size in case.values["area_ha_by_rate"].items()}
    assert case.hectares() == case.near(known)


def library(folder: Path, text: str) -> str:
    path = folder / "products.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


@for_case("S29-rate-limits")
def test_limits_of_the_product_hold(case: Checked) -> None:
    """240 above 200 stops, 18 below 30 is a caution, 0 stays 0; each zone is named with its rate."""
    product = json.loads((case.folder / "product.json").read_text())
    rates = "".join(f'{key} = "{product[key]} {product["unit"]}"\n' for key in ("min", "max", "step"))
    file = library(
        case.folder, f'[[product]]\nname = "{product["name"]}"\nform = "granular"\nuse = "fertiliser"\n{rates}'
    )
    case.check("--product", f"{file}#{product['name']}", "--unit", product["unit"])
    assert case.code == 1
    assert case.mentions_all(), case.text
    (above,) = case.named("rate-above-max")
    (below,) = case.named("rate-below-min")
    assert "D" in above["message"]
    assert "240" in above["message"]
    assert "B" in below["message"]
    assert "18" in below["message"]
    assert len(above["features"]) == len(below["features"]) == 1


@for_case("S30-nutrient-vs-product")
def test_a_nutrient_is_turned_into_product_and_said(case: Checked) -> None:
    """The column's name says lb N/ac: the sum with 28 % and 10.66 lb/gal is shown; without them nothing is compared."""
    said = json.loads((case.folder / "product.json").read_text())
    bare = (
        'units = "us"\n[[product]]\nname = "Solution"\nform = "liquid"\nuse = "fertiliser"\nmin = "1 gal/ac"\n'
        'max = "900 gal/ac"\nstep = "0.0001 gal/ac"\n'
    )
    known = (
        f'density = "{said["density_lb_per_US_gal"]} lb/gal"\n'
        f'analysis = {{ N = "{said["analysis_N_pct_by_weight"]} %" }}\n'
    )
    case.check("--product", f"{library(case.folder, bare + known)}#Solution")
    assert (case.code, case.outcome) == (0, "note")
    assert case.said["map"]["unit"] == "lb N/ac"
    assert case.mentions_all(), case.text
    case.check("--product", f"{library(case.folder, bare)}#Solution")
    unseen = {one["id"]: one["why"] for one in case.said["not_checked"]}
    assert "analysis" in unseen["rate-above-max"]
