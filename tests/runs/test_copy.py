"""The maps of several bundles on a stick: whose they are, which is the older one, and what is left alone."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
from support_fields import bench

from vrx.cli.main import main
from vrx.errors import InputError, OutputError, VrxError
from vrx.reports.copied import copied_text
from vrx.reports.finding_titles import title_of
from vrx.runs.build import build
from vrx.runs.copy import copy

Capture = pytest.CaptureFixture[str]
LOWER = ("product[Granular].max=110 kg/ha",)
LOWEST = ("product[Granular].max=100 kg/ha",)


def plan_in(folder: Path, name: str = "North 40", *, client: str = "", south: float = 0.0) -> Path:
    """Write a plan of the invented field, moved southwards by so many degrees where said."""
    folder.mkdir(parents=True)
    text = bench(folder).replace('name = "Test field"', f'name = "{name}"\nclient = "{client}"')
    if south:
        for path in folder.glob("*.geojson"):
            said = json.loads(path.read_text(encoding="utf-8"))
            for one in said["features"]:
                rings = one["geometry"]["coordinates"]
                one["geometry"]["coordinates"] = [[[x, y - south] for x, y in ring] for ring in rings]
            path.write_text(json.dumps(said), encoding="utf-8")
    plan = folder / "plan.toml"
    plan.write_text(text, encoding="utf-8")
    return plan


def built(plan: Path, out: str = "bundle", **options: Any) -> Path:
    found = build(plan, out=plan.parent / out, pictures=False, **options).bundle
    assert found is not None
    return found


def maps_in(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    (tmp_path / "stick").mkdir()
    return tmp_path / "stick"


def test_several_fields_lie_side_by_side_as_they_were_built(tmp_path: Path, stick: Path) -> None:
    """Each file has the checksum of its bundle's manifest; only what is in machine/ is there."""
    bundles = [built(plan_in(tmp_path / "a", "North 40")), built(plan_in(tmp_path / "b", "South 40", south=0.1))]
    copied = copy(bundles, stick)
    assert copied.folder == stick
    sums = {
        Path(one["path"]).name: one["sha256"]
        for bundle in bundles
        for one in json.loads((bundle / "manifest.json").read_text(encoding="utf-8"))["outputs"]
        if one["path"].startswith("machine/")
    }
    assert {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in stick.iterdir()} == sums
    assert {one.field for one in copied.files} == {"North 40", "South 40"}
    assert all(one.is_new for one in copied.files)
    assert copied.findings == ()
    again = copy([*bundles, bundles[0]], stick)
    assert not any(one.is_new for one in again.files)


def test_an_older_revision_is_told_and_stays(tmp_path: Path, stick: Path) -> None:
    """The bundle knows what it replaces; nothing is deleted unless told, and then only that."""
    plan = plan_in(tmp_path / "a")
    other = built(plan_in(tmp_path / "b", "South 40", south=0.1))
    copy([built(plan), other], stick)
    before = maps_in(stick)
    newer = built(plan, sets=LOWER, force=True)
    copied = copy([newer], stick)
    (finding,) = copied.findings
    assert (finding.id, finding.severity) == ("stick-older", "caution")
    assert "which the build that was copied replaces (North 40)" in finding.message
    assert maps_in(stick) > before
    removing = copy([newer], stick, remove_older=True)
    assert removing.findings == ()
    assert {Path(name).stem for name in removing.removed} == {finding.message.split()[3].rstrip(",")}
    left = {path.name for bundle in (newer, other) for path in (bundle / "machine").iterdir()}
    assert maps_in(stick) == left


def test_another_build_of_the_field_is_known_by_name_and_ground(tmp_path: Path, stick: Path) -> None:
    """Even where the bundle replaces nothing that its manifest names."""
    plan = plan_in(tmp_path / "a")
    copy([built(plan, sets=LOWER)], stick)
    (finding,) = copy([built(plan, "second", sets=LOWEST)], stick).findings
    assert finding.id == "stick-older"
    assert "by name and ground another build of the same field, season and product" in finding.message


def test_another_fields_map_of_the_same_name_is_left_alone(tmp_path: Path, stick: Path) -> None:
    """Two growers have a North 40, miles apart: a note, and told to remove older ones it is not removed."""
    copy([built(plan_in(tmp_path / "a", client="Larch"), sets=LOWER)], stick)
    before = maps_in(stick)
    copied = copy([built(plan_in(tmp_path / "b", client="Alder", south=0.1))], stick, remove_older=True)
    (finding,) = copied.findings
    assert (finding.id, finding.severity) == ("stick-namesake", "note")
    assert copied.removed == ()
    assert maps_in(stick) > before


def test_a_map_on_the_stick_that_can_not_be_read_is_left_alone(tmp_path: Path, stick: Path) -> None:
    """Whether it is the same field's can't be told."""
    plan = plan_in(tmp_path / "a")
    copy([built(plan, sets=LOWER)], stick)
    for path in stick.iterdir():
        path.write_bytes(b"damaged")
    copied = copy([built(plan, "second", sets=LOWEST)], stick, remove_older=True)
    assert [one.id for one in copied.findings] == ["stick-unreadable"]
    assert copied.removed == ()


def test_two_builds_of_one_field_do_not_go_together(tmp_path: Path, stick: Path) -> None:
    """Which of them is to be driven is for a person to say."""
    plan = plan_in(tmp_path / "a")
    with pytest.raises(InputError, match="two builds of the same field") as caught:
        copy([built(plan), built(plan, "second", sets=LOWER)], stick)
    assert "second" in caught.value.problem
    assert maps_in(stick) == set()


@pytest.mark.parametrize(
    ("clients", "south"),
    [
        pytest.param(("Larch", "Alder"), 0.1, id="other clients, other ground"),
        pytest.param(("Larch", "Larch"), 0.1, id="one client, other ground"),
        pytest.param(("Larch", "Alder"), 0.0, id="other clients, ground that meets"),
    ],
)
def test_two_fields_of_one_name_go_together(
    tmp_path: Path, stick: Path, clients: tuple[str, str], south: float
) -> None:
    """Other ground, or another client: all maps of both are on the stick."""
    first = built(plan_in(tmp_path / "a", "F", client=clients[0]), sets=LOWER)
    second = built(plan_in(tmp_path / "b", "F", client=clients[1], south=south))
    copied = copy([first, second], stick)
    assert copied.findings == ()
    assert maps_in(stick) == maps_in(first / "machine") | maps_in(second / "machine")
    assert not maps_in(first / "machine") & maps_in(second / "machine")


def test_two_builds_of_one_field_are_refused_where_only_one_names_the_client(tmp_path: Path, stick: Path) -> None:
    """A client that was added later makes no other field."""
    first = built(plan_in(tmp_path / "a"), sets=LOWER)
    with pytest.raises(InputError, match="two builds of the same field"):
        copy([first, built(plan_in(tmp_path / "b", client="Larch"))], stick)


def test_another_fields_file_is_never_written_over(tmp_path: Path, stick: Path) -> None:
    """The same name and other contents: both files are named, and nothing is written."""
    bundle = built(plan_in(tmp_path / "a"))
    name = next((bundle / "machine").iterdir()).name
    (stick / name).write_bytes(b"another field's")
    with pytest.raises(OutputError) as caught:
        copy([bundle], stick)
    assert str(stick / name) in caught.value.problem
    assert str(bundle / "machine" / name) in caught.value.problem
    assert maps_in(stick) == {name}
    assert (stick / name).read_bytes() == b"another field's"


def test_what_is_no_bundle_with_maps_is_refused(tmp_path: Path, stick: Path) -> None:
    """A folder without manifest, the report of a stopped build, a changed map; all of them told at once."""
    plan = plan_in(tmp_path / "a")
    changed = built(plan)
    next((changed / "machine").iterdir()).write_bytes(b"edited")
    build(plan, out=plan.parent / "wrong", sets=["field.crop=peas", "product[Granular].crops=['oats']"])
    stopped = plan.parent / "wrong-stopped"
    with pytest.raises(VrxError) as caught:
        copy([plan.parent, stopped, changed], stick)
    found = " ".join(one.problem for one in caught.value.each)
    assert len(caught.value.each) == 3
    for words in ("This is no bundle", "a build that was stopped", "not the file that was built"):
        assert words in found
    assert maps_in(stick) == set()


@pytest.mark.parametrize("folder", ["..", "a/b", "a:b", "."])
def test_a_folder_of_the_stick_is_one_plain_name(tmp_path: Path, stick: Path, folder: str) -> None:
    """It can't lead out of the stick."""
    with pytest.raises(OutputError, match="not the name of one folder"):
        copy([tmp_path], stick, folder=folder)


def test_a_folder_of_the_stick_is_used(tmp_path: Path, stick: Path) -> None:
    """Other maps in the stick's root play no part."""
    bundle = built(plan_in(tmp_path / "a"))
    copied = copy([bundle], stick, folder="maps")
    assert copied.folder == stick / "maps"
    assert maps_in(stick / "maps") == maps_in(bundle / "machine")


def test_a_stick_within_a_bundle_is_refused(tmp_path: Path) -> None:
    """The bundle's own folders stay what was built."""
    bundle = built(plan_in(tmp_path / "a"))
    with pytest.raises(OutputError, match="is in a bundle"):
        copy([bundle], bundle / "machine")


def test_a_full_stick_is_refused(tmp_path: Path, stick: Path) -> None:
    """Before a byte is written."""
    with pytest.raises(OutputError, match="no room"):
        copy([built(plan_in(tmp_path / "a"))], stick, free=lambda _: 1000)
    assert maps_in(stick) == set()


def test_the_findings_have_titles_and_the_text_has_all(tmp_path: Path, stick: Path) -> None:
    """A field at a time, its maps with their endings, what was there, and what to look at."""
    plan = plan_in(tmp_path / "a", client="Larch")
    copy([built(plan)], stick)
    copied = copy([built(plan, sets=LOWER, force=True)], stick)
    text = copied_text(copied)
    assert f"Copied and read back: {stick}" in text
    assert "Larch, North 40" in text
    assert ".shp .shx .dbf .prj .cpg" in text
    assert "CAUTION" in text
    assert "[stick-older]" in text
    assert all(title_of(one) for one in ("stick-older", "stick-namesake", "stick-unreadable"))
    assert "(was there already)" in copied_text(copy([plan.parent / "bundle"], stick))


# --- the command line


def test_copy_says_all_in_json(tmp_path: Path, stick: Path, capsys: Capture) -> None:
    """Whole paths, checksums, whose each file is, and whether it is new."""
    bundle = built(plan_in(tmp_path / "a"))
    assert main(["copy", str(bundle), str(stick), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["folder"] == str(stick.resolve())
    assert {Path(one["path"]).name for one in said["files"]} == maps_in(stick)
    assert all(one["new"] and one["field"] == "North 40" and len(one["sha256"]) == 64 for one in said["files"])
    assert (said["removed"], said["findings"]) == ([], [])


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        pytest.param(["a/bundle"], "The following arguments are required: STICK.", id="no stick"),
        pytest.param(["a/bundle", "E"], "E: There is no such stick or folder.", id="a stick that is not there"),
    ],
)
def test_a_call_that_can_not_be_meant_is_one_line(
    tmp_path: Path, words: list[str], problem: str, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit 2; a missing stick is never made, as a folder of the computer's own disk."""
    monkeypatch.chdir(tmp_path)
    assert main(["copy", *words]) == 2
    said = capsys.readouterr().err
    assert said.startswith(f"vrx: {problem}")
    assert said.count("\n") == 1
    assert not (tmp_path / "E").exists()


def test_build_copies_too(tmp_path: Path, stick: Path, capsys: Capture) -> None:
    """One command for the morning: changed, built, written, on the stick."""
    plan = plan_in(tmp_path / "a")
    words = ["build", str(plan), "--no-pictures", "--set", LOWER[0], "--copy-to", str(stick)]
    assert main([*words, "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert {Path(one["path"]).name for one in said["copied"]["files"]} == maps_in(stick)
    assert maps_in(stick) == maps_in(plan.parent / "plan-bundle" / "machine")
    assert main([*words, "--force"]) == 0
    assert f"Copied and read back: {stick}" in capsys.readouterr().out


def test_a_missing_stick_is_said_before_anything_is_built(tmp_path: Path, capsys: Capture) -> None:
    """No bundle, one line."""
    plan = plan_in(tmp_path / "a")
    assert main(["build", str(plan), "--no-pictures", "--copy-to", str(tmp_path / "none")]) == 2
    assert "no such stick" in capsys.readouterr().err
    assert not (plan.parent / "plan-bundle").exists()


def test_a_stopped_build_copies_nothing(tmp_path: Path, stick: Path, capsys: Capture) -> None:
    """Exit 1, and the stick as it was."""
    plan = plan_in(tmp_path / "a")
    changes = ["--set", "field.crop=peas", "--set", "product[Granular].crops=['oats']"]
    assert main(["build", str(plan), "--no-pictures", "--copy-to", str(stick), *changes]) == 1
    assert "Copied" not in capsys.readouterr().out
    assert maps_in(stick) == set()


def test_a_copy_that_fails_leaves_the_bundle_and_says_so(tmp_path: Path, stick: Path, capsys: Capture) -> None:
    """The build was not in vain."""
    plan = plan_in(tmp_path / "a")
    built(plan, "plan-bundle")
    for path in (plan.parent / "plan-bundle" / "machine").iterdir():
        (stick / path.name).write_bytes(b"another field's")
    assert main(["build", str(plan), "--no-pictures", "--force", "--copy-to", str(stick)]) == 2
    assert f"The bundle is whole, in {plan.parent / 'plan-bundle'}" in capsys.readouterr().err
    assert (plan.parent / "plan-bundle" / "manifest.json").is_file()
