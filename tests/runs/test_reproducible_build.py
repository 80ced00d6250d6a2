"""The same plan gives the same bytes on another day and in another folder, and says what a new bundle supersedes."""

from __future__ import annotations

import datetime as dt
import getpass
import hashlib
import json
import shutil
import socket
from pathlib import Path
from typing import Any

import pytest
from freezegun import freeze_time
from support_bundles import files_in
from support_clock import clock_library, run_shifted
from support_fields import bench

from vrx.runs.build import build

ROOT = Path(__file__).resolve().parents[2] / "sample_fields"
NAMES = ("bergwind", "przy_torze", "quail_bench")
ALL_FORMATS = '[receiver]\nformats = ["shapefile", "geojson", "geopackage"]\n'
BUILD = """
import sys, time, json, hashlib
from pathlib import Path
from vrx.cli.main import main
assert main(["build", sys.argv[1], "--out", sys.argv[2], "--json"]) == 0
out = Path(sys.argv[2])
print()
found = {path.relative_to(out).as_posix(): path.read_bytes() for path in out.rglob("*") if path.is_file()}
print(json.dumps([time.time(), {name: hashlib.sha256(data).hexdigest() for name, data in found.items()}]))
"""


def sample(name: str, folder: Path) -> Path:
    """Copy a sample field, and return its plan."""
    return shutil.copytree(ROOT / name, folder) / "plan.toml"


def made(plan: Path, **options: Any) -> dict[str, bytes]:
    out = build(plan, **options)
    assert out.bundle
    found = files_in(out.bundle)
    assert found
    return found


def manifest(files: dict[str, bytes]) -> Any:
    return json.loads(files["manifest.json"])


@pytest.mark.parametrize("name", NAMES)
def test_two_days_later_in_another_folder(name: str, tmp_path: Path) -> None:
    """Python's clock two days on, a path of another length, the working folder elsewhere: the same bytes."""
    first = made(sample(name, tmp_path / "a"))
    with freeze_time(dt.datetime.now(tz=dt.UTC) + dt.timedelta(days=2)):
        second = made(sample(name, tmp_path / "another folder" / "much deeper"), out=tmp_path / "elsewhere")
    assert first == second


def test_on_another_day_of_every_clock(tmp_path: Path) -> None:
    """A child process that lives 400 days later, in another time zone, its C libraries too, writes the same bytes."""
    library = clock_library(tmp_path)
    plan = sample("quail_bench", tmp_path / "field")
    runs = [json.loads(run_shifted(library, days, BUILD, str(plan), str(tmp_path / f"in {days}")).splitlines()[-1])
            for days in (0, 400)]  # fmt: skip
    assert runs[1][0] - runs[0][0] > 399 * 86400
    assert runs[0][1] == runs[1][1]
    here = made(plan, out=tmp_path / "here")
    assert runs[0][1] == {name: hashlib.sha256(data).hexdigest() for name, data in here.items()}


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Pacific/Pago_Pago"])
def test_in_another_time_zone(zone: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The two ends of the day line apart, the same bytes."""
    first = made(sample("bergwind", tmp_path / "a"))
    monkeypatch.setenv("TZ", zone)
    assert made(sample("bergwind", tmp_path / "b")) == first


@pytest.mark.parametrize("name", NAMES)
def test_no_path_no_name_and_no_clock(name: str, tmp_path: Path) -> None:
    """No file of a bundle holds the folder it was made in, the user, the computer, or today."""
    plan = sample(name, tmp_path / "tellme_folder")
    text = plan.read_text(encoding="utf-8")
    plan.write_text(text if "[receiver]" in text else text + ALL_FORMATS, encoding="utf-8")
    files = made(plan)
    today = dt.datetime.now(tz=dt.UTC).date()
    tokens = {"tellme_folder", str(tmp_path), tmp_path.name, str(Path.home()) + "/", today.isoformat()}
    tokens |= {token for token in (getpass.getuser(), socket.gethostname()) if len(token) > 5}
    tokens |= {today.strftime("%Y%m%d"), today.strftime("%d.%m.%Y"), "plan-bundle"}
    for path, content in files.items():
        for token in tokens:
            assert token.encode() not in content, f"{token} in {path}"
            assert token.encode("utf-16-le") not in content, f"{token} in {path}"


def test_the_only_date_is_the_plans(tmp_path: Path) -> None:
    """The table's header and the geopackage carry the plan's date; without one, 1980-01-01."""
    for date, stamp in (("", (80, 1, 1)), ("date = 2027-05-04", (127, 5, 4))):
        folder = tmp_path / f"a{len(date)}"
        folder.mkdir()
        (folder / "plan.toml").write_text(bench(folder, top=date, rest=ALL_FORMATS), encoding="utf-8")
        files = made(folder / "plan.toml")
        (table,) = (data for name, data in files.items() if name.endswith(".dbf"))
        assert tuple(table[1:4]) == stamp
        (package,) = (data for name, data in files.items() if name.endswith(".gpkg"))
        assert f"{1900 + stamp[0]}-{stamp[1]:02}-{stamp[2]:02}".encode() in package


def test_the_order_of_a_run_leaves_no_trace(tmp_path: Path) -> None:
    """A build after others in the same process is the one of a fresh process, the versions in its manifest too."""
    first = made(sample("bergwind", tmp_path / "a"))
    assert "GDAL" in manifest(made(sample("quail_bench", tmp_path / "b")))["versions"]  # it writes a geopackage
    assert made(sample("bergwind", tmp_path / "c")) == first
    assert "GDAL" not in manifest(first)["versions"]


def test_building_again_replaces_nothing_new(tmp_path: Path) -> None:
    """The same plan over its own bundle gives the same bytes, what it supersedes included."""
    plan = sample("bergwind", tmp_path / "a")
    first = made(plan)
    assert manifest(first)["supersedes"] is None
    assert made(plan, force=True) == first


def test_a_changed_plan_says_what_it_supersedes(tmp_path: Path) -> None:
    """The old revision and its maps are named, and stay named when the new one is built again."""
    plan = sample("bergwind", tmp_path / "a")
    first = made(plan)
    text = plan.read_text(encoding="utf-8")
    plan.write_text("revision = 2\n" + text.replace('max = "124 kg/ha"', 'max = "120 kg/ha"'), encoding="utf-8")
    second = made(plan, force=True)
    names = [one["name"] for one in manifest(first)["maps"]]
    assert manifest(second)["supersedes"] == {"revision": 1, "maps": names}
    assert [one["name"] for one in manifest(second)["maps"]] != names
    assert made(plan, force=True) == second


def test_the_manifest_lists_inputs_and_outputs_with_their_digests(tmp_path: Path) -> None:
    """Every file that was read and every file that was written is there with its SHA-256, by its name in the plan."""
    plan = sample("quail_bench", tmp_path / "a")
    files = made(plan)
    said = manifest(files)
    for one in said["outputs"]:
        assert hashlib.sha256(files[one["path"]]).hexdigest() == one["sha256"]
    assert {one["path"] for one in said["outputs"]} == files.keys() - {"manifest.json"}
    read = {one["path"]: one["sha256"] for one in said["inputs"]}
    there = {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in plan.parent.iterdir() if path.is_file()
    }
    there.pop("README.md")
    assert read == there


def test_inputs_outside_the_plans_folder_are_named_as_in_the_plan(tmp_path: Path) -> None:
    """``../shared/zones.geojson`` stays so; a file named by its whole path is named by its last part."""
    bench(tmp_path / "shared")
    own = tmp_path / "own"
    own.mkdir()
    plan = own / "plan.toml"
    whole = str(tmp_path / "shared" / "boundary.geojson")
    text = bench(tmp_path / "shared", zones="../shared/zones.geojson", boundary=whole)
    plan.write_text(text, encoding="utf-8")
    said = manifest(made(plan))
    assert [one["path"] for one in said["inputs"]] == ["plan.toml", "boundary.geojson", "../shared/zones.geojson"]
