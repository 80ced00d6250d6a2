"""The walk-through: steps in their order, the first that fails first, and what waits for it."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic
from support_cases import moved, rectangle
from support_fields import SPREADER, bench, write_box

from vrx.cli.main import main
from vrx.errors import VrxError
from vrx.inputs.missing_products import missing_products
from vrx.model.readiness import Readiness, ReadyStep
from vrx.runs.build import build
from vrx.runs.ready import ready
from vrx.runs.start_position import read_position

MACHINE = """
[machine]
name = "spreader 18"
width = "18 m"
[[machine.drive]]
name = "left"
span = ["-9 m", "0 m"]
product = "Granular"
group = "all"
[[machine.drive]]
name = "right"
span = ["0 m", "9 m"]
product = "Granular"
group = "all"
"""


def write_plan(folder: Path, text: str) -> Path:
    plan = folder / "plan.toml"
    plan.write_text(text, encoding="utf-8")
    return plan


@pytest.fixture
def built(tmp_path: Path) -> Path:
    """A plan whose map is built, with a machine of two drives in one group."""
    plan = write_plan(tmp_path, bench(tmp_path, rest=MACHINE))
    assert build(plan, pictures=False).bundle is not None
    return plan


def step(found: Readiness, number: int) -> ReadyStep:
    return found.steps[number - 1]


def texts(of: ReadyStep, state: str) -> list[str]:
    return [line.text for line in of.lines if line.state == state]


def test_steps_come_in_the_order_of_setting(built: Path) -> None:
    """Machine, groups, field, crop, products, maps, start: nothing fails, and what no data tells is a box to tick."""
    found = ready(built)
    assert [one.title for one in found.steps] == [
        "Machine and its drives",
        "Drives that run as one group",
        "Client, farm and field",
        "Crop",
        "Products on drives",
        "The map for each product",
        "Start position",
    ]
    assert found.verdict == "clear"
    assert found.first_failing is None
    assert all(one.state == "by hand" for one in found.steps)
    assert any("left, right run at one rate (group all)" in text for text in texts(step(found, 2), "by hand"))
    assert any("may be loaded" in text for text in texts(step(found, 6), "fine"))
    assert any(", column RATE, unit kg/ha." in text for text in texts(step(found, 6), "by hand"))


def test_it_says_what_to_set_for_a_product(built: Path) -> None:
    """Form, drives, unit, minimum, maximum, step and default stand there to be ticked."""
    said = " ".join(texts(step(ready(built), 5), "by hand"))
    for part in ("granular fertiliser", "drives left, right", "unit: kg/ha", "minimum: 20 kg/ha", "maximum: 200 kg/ha",
                 "step: 5 kg/ha", "default rate"):  # fmt: skip
        assert part in said


def test_a_map_that_was_not_built_fails_at_its_step(tmp_path: Path) -> None:
    """Step 6 fails with the command that builds it, and step 7 waits for step 6; those above do not."""
    plan = write_plan(tmp_path, bench(tmp_path, rest=MACHINE))
    found = ready(plan)
    failing = found.first_failing
    assert failing is not None
    assert failing.number == 6
    assert [line.remedy for line in failing.lines if line.state == "stop"] == [f"Build it: vrx build {plan}"]
    assert [one.waits_for for one in found.steps] == [0, 0, 0, 0, 0, 0, 6]
    assert step(found, 7).state == "waits"
    assert found.verdict == "stop"


def test_a_product_that_nobody_described_is_named_with_an_entry_to_paste(built: Path) -> None:
    """The entry is TOML with every key that a product needs; filled in, the plan can be read."""
    text = built.read_text(encoding="utf-8")
    plan = write_plan(built.parent, text.replace('product = "Granular"', 'product = "Winter mix"', 1))
    plan.write_text(plan.read_text().replace(MACHINE, ""), encoding="utf-8")
    text = plan.read_text().replace(SPREADER, "")
    plan.write_text(text, encoding="utf-8")
    found = ready(plan)
    failing = found.first_failing
    assert failing is not None
    assert failing.number == 5
    (line,) = [one for one in failing.lines if one.state == "stop"]
    assert "Winter mix" in line.text
    entry = line.remedy.partition("\n")[2]
    (product,) = tomllib.loads(entry)["product"]
    assert product.keys() == {"name", "form", "use", "min", "max", "step"}
    assert product["name"] == "Winter mix"
    assert product["form"] == "granular"
    assert product["min"].endswith("kg/ha")
    filled = (
        entry.replace('min = "...', 'min = "20').replace('max = "...', 'max = "200').replace('step = "...', 'step = "5')
    )
    plan.write_text(text.replace("[zones]", f"{filled}\n[zones]", 1), encoding="utf-8")
    assert missing_products(plan) == ()
    assert build(plan, pictures=False, force=True).bundle is not None


@pytest.mark.parametrize(
    ("groups", "state"),
    [
        pytest.param("left+right", "fine", id="as the plan says"),
        pytest.param("right + left", "fine", id="in another order"),
    ],
)
def test_groups_that_agree_are_fine(built: Path, groups: str, state: str) -> None:
    """What the cab is set to is told with --groups, and held against the plan."""
    assert any("grouped as the plan says" in text for text in texts(step(ready(built, groups=groups), 2), state))


@pytest.mark.parametrize("groups", ["left+", "left, left", "+"])
def test_groups_that_make_no_sense_are_refused(built: Path, groups: str) -> None:
    """Each drive stands in one group, once."""
    with pytest.raises(VrxError, match="does not tell which drives"):
        ready(built, groups=groups)


def place(x: float, y: float) -> str:
    ((longitude, latitude),) = moved([(x, y)], "EPSG:4326")
    return f"{longitude:.8f},{latitude:.8f}"


def test_a_machine_in_the_field_is_fine(built: Path) -> None:
    """The field is 420 m wide and 250 m high around the origin."""
    assert step(ready(built, position=place(0, 100)), 7).lines[0].state == "fine"


@pytest.mark.parametrize(
    ("x", "y", "distance_m", "wind"),
    [
        pytest.param(-310, 125, 100, "east", id="100 m west of it"),
        pytest.param(0, 500, 250, "south", id="250 m north of it"),
        pytest.param(1210, 125, 1000, "west", id="1 km east of it"),
        pytest.param(-310, -100, 2**0.5 * 100, "north-east", id="off a corner"),
    ],
)
def test_a_machine_elsewhere_is_told_the_way(built: Path, x: float, y: float, distance_m: float, wind: str) -> None:
    """Distance and direction are those from the machine to the nearest place of the boundary."""
    line = step(ready(built, position=place(x, y)), 7).lines[0]
    assert line.state == "stop"
    told = f"{distance_m / 1000:,.2f} km" if distance_m >= 999.5 else f"{distance_m:.2f} m"
    assert f"the field lies {told}" in line.text
    assert line.text.endswith(f"to the {wind}.")


@pytest.mark.source("GeographicLib", "geographiclib 2, Geodesic.WGS84.Inverse")
def test_the_way_is_a_geodesic(built: Path) -> None:
    """From far away the distance is that of GeographicLib to the nearest place of the boundary, to its last digit."""
    line = step(ready(built, position="-95.0,41.0"), 7).lines[0]
    corners = moved(rectangle(-210, 0, 210, 250), "EPSG:4326")
    nearest = min(Geodesic.WGS84.Inverse(41.0, -95.0, y, x)["s12"] for x, y in corners)
    assert f"{nearest / 1000:.2f} km" in line.text


def test_a_machine_in_a_keep_out_is_a_caution(tmp_path: Path) -> None:
    """It stands in the field, and where it may not."""
    write_box(tmp_path / "hut.geojson", 0.0, 100.0, 30.0, 130.0)
    rest = '\n[[keep_out]]\nwhere = "hut.geojson"\nreason = "hut"\n'
    plan = write_plan(tmp_path, bench(tmp_path, rest=rest))
    build(plan, pictures=False)
    line = step(ready(plan, position=place(15, 115)), 7).lines[0]
    assert (line.state, "keep-out hut" in line.text) == ("caution", True)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param("here", "is no position", id="a word"),
        pytest.param("1,2,3", "is no position", id="three numbers"),
        pytest.param("46.3,-116.8", "longitude comes first", id="latitude first"),
        pytest.param("200,91", "no place on earth", id="beyond"),
        pytest.param("nan,5", "no place on earth", id="not a number"),
    ],
)
def test_positions_that_are_none_are_refused(text: str, said: str) -> None:
    """With how to write one."""
    with pytest.raises(VrxError, match=said) as caught:
        read_position(text)
    assert "-116.82134,46.31208" in str(caught.value)


def test_another_map_under_its_name_fails(built: Path) -> None:
    """A map on the stick whose rates were changed after the build is found where the map is looked at."""
    stick = built.parent / "stick"
    stick.mkdir()
    for file in (built.parent / "plan-bundle" / "machine").iterdir():
        (stick / file.name).write_bytes(file.read_bytes())
    assert ready(built, maps=stick).verdict == "clear"
    (dbf,) = stick.glob("*.dbf")
    data = bytearray(dbf.read_bytes())
    data[data.rindex(b"140")] = ord("9")
    dbf.write_bytes(bytes(data))
    found = ready(built, maps=stick)
    failing = found.first_failing
    assert failing is not None
    assert failing.number == 6
    assert {"changed-since-build", "rate-above-max"} <= {line.finding for line in failing.lines}


TWO = """
[[product]]
name = "Blend"
form = "granular"
use = "fertiliser"
min = "20 kg/ha"
max = "200 kg/ha"
step = "5 kg/ha"
analysis = {{ N = "30 %" }}

[[rate]]
product = "Blend"
by = "table"
table = {{ A = "{a} kg/ha", B = "{b} kg/ha", C = "{c} kg/ha" }}
"""
ONE_OF = """
[machine]
name = "two bins"
width = "18 m"
[[machine.drive]]
name = "spinner"
span = ["-9 m", "9 m"]
one_of = ["Granular", "Blend"]
"""


def plan_of_two(folder: Path, a: int, b: int, c: int, *, top: str = "", machine: str = ONE_OF) -> Path:
    """Granular at 0 in A and 100 in B and C, Blend as said; A, B and C are 4.5, 3 and 3 ha."""
    granular = SPREADER.rstrip() + '\nanalysis = { N = "20 %" }\n'
    rates = (
        '[[rate]]\nproduct = "Granular"\nby = "table"\ntable = { A = "0 kg/ha", B = "100 kg/ha", C = "100 kg/ha" }\n'
    )
    rest = TWO.format(a=a, b=b, c=c) + machine + top
    plan = write_plan(folder, bench(folder, products=granular, rates=rates, rest=rest))
    assert build(plan, pictures=False).bundle is not None
    return plan


def test_products_that_share_a_drive_have_exactly_one_rate_everywhere(tmp_path: Path) -> None:
    """Where each place has one of them, it is fine, and no map alone has to say so."""
    found = ready(plan_of_two(tmp_path, 80, 0, 0))
    assert found.verdict == "clear"
    assert "not-one-of" not in {one.id for one in found.not_checked}


@pytest.mark.parametrize(
    ("rates", "said", "area_m2"),
    [
        pytest.param((80, 60, 0), "Granular and Blend are both above 0 on 3.0000 ha", 30_000, id="both in B"),
        pytest.param((0, 0, 0), "none of Granular, Blend is above 0 on 4.5000 ha", 45_000, id="none in A"),
    ],
)
def test_products_that_share_a_drive_and_do_not_part(
    tmp_path: Path, rates: tuple[int, int, int], said: str, area_m2: float
) -> None:
    """Two on one place, or none, fail where products are set, with the ground."""
    found = ready(plan_of_two(tmp_path, *rates))
    (finding,) = [one for one in found.findings if one.id == "not-one-of"]
    assert said in finding.message
    assert finding.area_m2 == pytest.approx(area_m2, rel=1e-4)
    failing = found.first_failing
    assert failing is not None
    assert failing.number == 5


@pytest.mark.parametrize(("cap", "over"), [pytest.param("38 kg N/ha", False, id="just"), ("37.9 kg N/ha", True)])
def test_products_together_stay_below_a_cap(tmp_path: Path, cap: str, over: bool) -> None:
    """100 kg/ha of 20 % and 60 kg/ha of 30 % are 38 kg N/ha on 3 ha; neither map alone is near the cap."""
    found = ready(plan_of_two(tmp_path, 0, 60, 0, top=f'[caps]\nN = "{cap}"\n', machine=""))
    told = [one for one in found.findings if one.id == "nutrient-over-limit"]
    assert bool(told) is over
    if over:
        assert "Granular, Blend together bring up to 38 kg N/ha onto 3.0000 ha" in told[0].message
        failing = found.first_failing
        assert failing is not None
        assert failing.number == 6


def test_drives_that_leave_out_a_part_of_the_width_are_a_caution(tmp_path: Path) -> None:
    """9 m of 18 m are served."""
    half = MACHINE[: MACHINE.index("[[machine.drive]]", MACHINE.index('"left"'))]
    plan = write_plan(tmp_path, bench(tmp_path, rest=half))
    (told,) = texts(step(ready(plan), 1), "caution")
    assert "serve 9 m together, and it is 18 m wide" in told


def test_the_command_says_it_and_ends_with_its_code(built: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """0 where nothing speaks against it, 1 where a step fails, 2 where the call can't be used; the verdict first."""
    assert main(["ready", str(built)]) == 0
    assert capsys.readouterr().out.startswith("READY as far as data can tell: Test field.")
    assert main(["ready", str(built), "--position", "-95.0,41.0"]) == 1
    said = capsys.readouterr().out
    assert said.startswith("NOT READY: Test field. Step 7, start position, has to be settled first.")
    assert main(["ready", str(built), "--position", "95"]) == 2
    assert main(["ready", str(built.with_name("none.toml"))]) == 2


def test_json_is_one_object(built: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Verdict, steps with their lines, the check of each map, findings and what was not looked at."""
    capsys.readouterr()
    assert main(["ready", str(built), "--json"]) == 0
    said: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert said["verdict"] == "clear"
    assert [one["number"] for one in said["steps"]] == [1, 2, 3, 4, 5, 6, 7]
    assert {one["state"] for one in said["steps"]} == {"by hand"}
    (checked,) = said["maps"]
    assert (checked["product"], checked["verdict"]) == ("Granular", "clear")
    assert said["first_failing"] is None
