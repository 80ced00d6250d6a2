"""The sample fields are what their generator writes, and their plans are plans."""

from __future__ import annotations

import shutil
from math import ceil
from pathlib import Path

import fiona
import make_sample_fields
import pytest
import shapely
from fiona.model import to_dict

from vrx.inputs.plan_file import read_plan
from vrx.runs.build import Build, build

ROOT = Path(__file__).resolve().parents[1] / "sample_fields"
NAMES = ("bergwind", "lange_ager", "przy_torze", "quail_bench")
LAYERS = sorted(str(path.relative_to(ROOT)) for end in ("geojson", "gpkg", "shp") for path in ROOT.glob(f"*/*.{end}"))
HAND_WRITTEN = {"plan.toml", "README.md"}
SHARED = {"products.toml"}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sample_fields")
    make_sample_fields.main(folder)
    return folder


def data_files(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for name in NAMES
        for path in sorted((folder / name).iterdir())
        if path.is_file() and path.name not in HAND_WRITTEN | SHARED
    }


def test_the_generator_writes_the_same_bytes_twice(made: Path, tmp_path: Path) -> None:
    """Two runs in two folders give the same files, byte for byte."""
    make_sample_fields.main(tmp_path)
    assert data_files(made) == data_files(tmp_path)


def test_no_data_file_is_missing_or_left_over(made: Path) -> None:
    """The kept folders hold what the generator writes, and beside it a plan and a story."""
    assert data_files(ROOT).keys() == data_files(made).keys()
    for name in NAMES:
        assert {path.name for path in (ROOT / name).iterdir()} >= HAND_WRITTEN


@pytest.mark.parametrize("layer", LAYERS)
def test_a_kept_layer_is_what_the_generator_writes(layer: str, made: Path) -> None:
    """Records, attributes and shapes are equal; bytes may differ between versions of GDAL, SQLite and PROJ."""
    with fiona.open(ROOT / layer) as kept, fiona.open(made / layer) as fresh:
        assert (kept.crs, kept.schema) == (fresh.crs, fresh.schema)
        finest = 1.01e-7 if kept.crs and kept.crs.is_geographic else 0.0101
        pairs = list(zip(kept, fresh, strict=True))
        assert pairs
        for one, other in pairs:
            assert dict(one.properties) == dict(other.properties)
            assert shapely.equals_exact(
                shapely.geometry.shape(to_dict(one.geometry)), shapely.geometry.shape(to_dict(other.geometry)), finest
            )


def test_the_kept_rate_table_is_what_the_generator_writes(made: Path) -> None:
    """The CSV depends on no library: its bytes are equal."""
    table = "bergwind/seed_rates.csv"
    assert (ROOT / table).read_bytes() == (made / table).read_bytes()


@pytest.mark.parametrize("name", NAMES)
def test_a_sample_plan_is_valid(name: str) -> None:
    """The plan fits the model, and every file that it names is there."""
    plan = read_plan(ROOT / name / "plan.toml").plan
    zones = [file for layer in plan.zone_layers.values() for file in layer.from_]
    overlays = [overlay.where for overlay in plan.overlay if overlay.is_file]
    named = [*plan.field.boundary, *zones, *overlays, *(keep_out.where for keep_out in plan.keep_out)]
    assert all((ROOT / name / file).is_file() for file in named)


def test_the_samples_stay_small() -> None:
    """A field with its data stays under 200 kB, since all of them travel in the wheel."""
    for name in NAMES:
        assert sum(path.stat().st_size for path in (ROOT / name).iterdir()) < 200_000


def test_the_messy_sample_is_messy() -> None:
    """The faults that the story promises are in the file: no CRS, a broken ring, two parts, a hole, heights."""
    with fiona.open(ROOT / "przy_torze" / "strefy.shp") as layer:
        assert not layer.crs
        shapes = [shapely.geometry.shape(to_dict(record.geometry)) for record in layer]
        texts = [record.properties["P_MG"] for record in layer]
    assert sum(not shapely.is_valid(shape) for shape in shapes) == 2
    assert any(shape.geom_type == "MultiPolygon" for shape in shapes)
    assert any(len(part.interiors) for shape in shapes for part in shapely.get_parts(shape))
    assert all(shapely.has_z(shape) for shape in shapes)
    assert all("," in text for text in texts)
    assert any(shapely.equals(one, other) for at, one in enumerate(shapes) for other in shapes[:at])
    with fiona.open(ROOT / "przy_torze" / "boundary.shp") as layer:
        (boundary,) = (shapely.geometry.shape(to_dict(record.geometry)) for record in layer)
        assert layer.crs.to_epsg() == 32633
    assert len(shapely.get_parts(boundary)) == 2
    # Easting of 18 degrees east in UTM 33N at this latitude, from pyproj: 702 917 m.
    west, _, east, _ = boundary.bounds
    assert west < 703_000 < east


def built(name: str, folder: Path) -> Build:
    return build(shutil.copytree(ROOT / name, folder / name) / "plan.toml")


@pytest.mark.parametrize(
    ("name", "cautions"),
    [
        pytest.param("quail_bench", ["rate-below-min"], id="potash on the gravelly loam is raised"),
        pytest.param("bergwind", ["rate-below-min"], id="seed on the upper slope is raised"),
        pytest.param("lange_ager", [], id="nothing to look at"),
        pytest.param("przy_torze", ["gap", "invalid-shape", "invalid-shape"], id="two broken rings and bare ground"),
    ],
)
def test_a_sample_says_what_its_story_promises(name: str, cautions: list[str], tmp_path: Path) -> None:
    """Nothing stops, and the cautions are the intended ones and no other."""
    out = built(name, tmp_path)
    assert not out.stopped
    assert sorted(found.id for found in out.findings if found.severity == "caution") == cautions


def test_the_messy_sample_names_its_faults(tmp_path: Path) -> None:
    """Heights, slivers, overlaps: what is mended without asking is still said."""
    out = built("przy_torze", tmp_path)
    assert {found.id for found in out.findings if found.severity == "note"} >= {"has-z", "overlap", "sliver"}


def test_a_tie_goes_up_and_zero_stays_zero(tmp_path: Path) -> None:
    """165 lb/ac at a step of 10 is given as 170 (Quail Bench); the stony crest of Bergwind gets 0 of everything."""
    _, potash = built("quail_bench", tmp_path).ledger.products
    assert {(row.wanted, row.given) for row in potash.rows if row.zone == "Cbl"} == {(165.0, 170)}
    for product in built("bergwind", tmp_path).ledger.products:
        assert {row.given for row in product.rows if row.zone == "Stony crest"} == {0}


def test_the_well_binds_the_liquid_alone(tmp_path: Path) -> None:
    """The two products of Quail Bench treat different ground: a circle of 100 ft around the well lies between.

    Source: the area of a circle; its polygon may be up to 0.5 % smaller.
    """
    liquid, potash = built("quail_bench", tmp_path).ledger.products
    circle_m2 = 3.14159265 * (100 * 0.3048) ** 2
    assert 0.995 * circle_m2 < potash.geodesic_area_m2 - liquid.geodesic_area_m2 < 1.0005 * circle_m2


def test_order_and_loads_of_bergwind_can_be_done_by_hand(tmp_path: Path) -> None:
    """From the amounts that the ledger gives, with pencil and paper: 3 % overlap, whole bags, two bins, two prices.

    The story of the sample tells the same sums; the price of seed is 8.40 ZAR/kg, that of LAN 28 7.25 ZAR/kg, and
    2,000 L of LAN 28 would weigh 1,900 kg.
    """
    seed, nitrogen = built("bergwind", tmp_path).ledger.products
    story = (ROOT / "bergwind" / "README.md").read_text(encoding="utf-8")
    for account, bag_kg, price, bin_kg, kept_kg in ((seed, 50, 8.40, 1100, 60), (nitrogen, 500, 7.25, 1800, 50)):
        needed = account.total_given * 1.03
        bags = ceil(needed / bag_kg)
        assert (account.order.packages, account.order.to_order) == (bags, bags * bag_kg)
        cost = account.order.cost(account.order.to_order)
        assert cost is not None
        assert float(cost) == pytest.approx(bags * bag_kg * price, abs=1e-9)
        assert account.loads is not None
        whole, last = divmod(needed, bin_kg - kept_kg)
        assert (account.loads.whole, float(account.loads.last)) == (whole, pytest.approx(last, abs=1e-6))
        for told in (
            f"{account.total_given:,.1f} kg",
            f"{needed:,.1f} kg",
            f"{bags} bags, {bags * bag_kg:,} kg",
            f"{float(cost):,.2f} ZAR",
            f"{bin_kg - kept_kg:,} kg a load",
            f"{whole:.0f} whole loads",
            f"{last:,.1f} kg",
        ):
            assert told in story, told
