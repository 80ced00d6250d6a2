"""Machine files on a stick: side by side, none over another, read back, all of them or none."""

from __future__ import annotations

import errno
import hashlib
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from support_faults import Fault, disturbed

from vrx.errors import InputError, OutputError
from vrx.exports import stick as stick_module
from vrx.exports.stick import MachineFile, other_builds, put_on_stick, remove_from_stick

NORTH = "north-40_2027_urea_k7mq"
MAP = {f"{NORTH}.shp": b"shapes", f"{NORTH}.dbf": b"table", f"{NORTH}.geojson": b"text", f"{NORTH}.prj": b"crs"}


def machine(folder: Path, files: dict[str, bytes], field: str = "North 40") -> list[MachineFile]:
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in files.items():
        (folder / name).write_bytes(data)
    return [
        MachineFile(source=folder / name, sha256=hashlib.sha256(data).hexdigest(), field=field)
        for name, data in files.items()
    ]


def on(stick: Path) -> dict[str, bytes]:
    """What lies on a stick, hidden things and folders too."""
    return {path.name: path.read_bytes() if path.is_file() else b"a folder" for path in stick.iterdir()}


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    folder = tmp_path / "stick"
    folder.mkdir()
    return folder


# --- what comes to lie there


def test_files_lie_side_by_side_and_nothing_else(tmp_path: Path, stick: Path) -> None:
    """Two fields' files keep their names; no index, no folder and no temporary file stays."""
    north, south = machine(tmp_path / "a", MAP), machine(tmp_path / "b", {"south_2027_urea_22aa.shp": b"s"}, "South")
    assert put_on_stick([*north, *south], stick) == (*north, *south)
    assert on(stick) == MAP | {"south_2027_urea_22aa.shp": b"s"}


def test_a_second_copy_writes_nothing(tmp_path: Path, stick: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same files are there already; what is missing of them is added."""
    files = machine(tmp_path / "a", MAP)
    put_on_stick(files, stick)
    monkeypatch.setattr(os, "mkdir", lambda *_: pytest.fail("something was written"))
    assert put_on_stick(files, stick) == ()
    monkeypatch.undo()
    (stick / f"{NORTH}.dbf").unlink()
    assert [one.name for one in put_on_stick(files, stick)] == [f"{NORTH}.dbf"]
    assert on(stick) == MAP


def test_a_folder_of_the_stick_is_made(tmp_path: Path, stick: Path) -> None:
    """One level: the stick itself is never made."""
    put_on_stick(machine(tmp_path / "a", MAP), stick / "maps")
    assert on(stick / "maps") == MAP
    with pytest.raises(OutputError, match="no longer there"):
        put_on_stick(machine(tmp_path / "a", MAP), tmp_path / "nowhere" / "maps")
    assert not (tmp_path / "nowhere").exists()


# --- what is refused


@pytest.mark.parametrize(
    "there",
    [
        pytest.param({f"{NORTH}.shp": b"another field"}, id="other contents"),
        pytest.param({f"{NORTH.upper()}.SHP": b"shapes"}, id="the same in capitals, which a stick does not part"),
    ],
)
def test_another_file_of_the_same_name_is_never_written_over(
    tmp_path: Path, stick: Path, there: dict[str, bytes]
) -> None:
    """Both are named, and the stick stays as it was."""
    for name, data in there.items():
        (stick / name).write_bytes(data)
    files = machine(tmp_path / "a", MAP)
    with pytest.raises(OutputError, match="other contents") as caught:
        put_on_stick(files, stick)
    assert str(stick / next(iter(there))) in caught.value.problem
    assert str(files[0].source) in caught.value.problem
    assert "North 40" in caught.value.problem
    assert on(stick) == there


def test_a_folder_under_a_files_name_is_in_the_way(tmp_path: Path, stick: Path) -> None:
    """It is not looked into, and not replaced."""
    (stick / f"{NORTH}.shp").mkdir()
    with pytest.raises(OutputError, match="other contents"):
        put_on_stick(machine(tmp_path / "a", MAP), stick)


@pytest.mark.parametrize("second", [f"{NORTH}.shp", f"{NORTH.upper()}.shp"], ids=["same name", "capitals"])
def test_two_fields_files_of_one_name_can_not_lie_side_by_side(tmp_path: Path, stick: Path, second: str) -> None:
    """Refused before anything is written, with both fields named."""
    files = machine(tmp_path / "a", MAP) + machine(tmp_path / "b", {second: b"other"}, "North Forty")
    with pytest.raises(OutputError, match=r"North 40.* and .*North Forty"):
        put_on_stick(files, stick)
    assert on(stick) == {}


@pytest.mark.skipif(sys.platform == "win32", reason="such files can't be made there")
@pytest.mark.parametrize("name", ["a:b.shp", "what?.shp", "end. ", "con.shp", "line\nbreak.shp", "x" * 255 + ".shp"])
def test_a_name_that_a_stick_can_not_hold_is_refused(tmp_path: Path, stick: Path, name: str) -> None:
    """Characters, endings, devices and lengths of FAT."""
    file = MachineFile(source=tmp_path / name, sha256="", field="North 40")
    with pytest.raises(OutputError, match="can't hold"):
        put_on_stick([file], stick)


def test_a_full_stick_is_refused_before_anything_is_written(
    tmp_path: Path, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Files count in whole clusters of 32 KiB: four small ones need 128 KiB, and what is there already none."""
    files = machine(tmp_path / "a", MAP)
    monkeypatch.setattr(os, "mkdir", lambda *_: pytest.fail("something was written"))
    with pytest.raises(OutputError, match="takes 128 KiB, and 127 KiB are free"):
        put_on_stick(files, stick, free=lambda _: 127 * 1024)
    monkeypatch.undo()
    assert len(put_on_stick(files, stick, free=lambda _: 128 * 1024)) == 4
    assert put_on_stick(files, stick, free=lambda _: 0) == ()


def test_a_file_that_was_changed_since_it_was_built_is_not_copied(tmp_path: Path, stick: Path) -> None:
    """Its checksum differs from the manifest's."""
    files = machine(tmp_path / "a", MAP)
    files[1].source.write_bytes(b"edited")
    with pytest.raises(InputError, match="not the file that was built"):
        put_on_stick(files, stick)
    assert on(stick) == {}


def test_a_stick_that_loses_data_is_found_out(tmp_path: Path, stick: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is read back is compared with the manifest, not with what was meant to be written."""
    real = os.write

    def write(handle: int, data: memoryview) -> int:
        return real(handle, b"?" * len(data))

    monkeypatch.setattr(os, "write", write)
    with pytest.raises(OutputError, match="does not come back"):
        put_on_stick(machine(tmp_path / "a", MAP), stick)
    assert on(stick) == {}


# --- faults at every step


def named_files_are_whole(stick: Path) -> bool:
    """Tell whether every map is whole: what has its name is right, and no .shp stands without its parts."""
    there = {name: data for name, data in on(stick).items() if not name.startswith(".vrx-copy.")}
    right = all(MAP[name] == data for name, data in there.items())
    return right and (f"{NORTH}.shp" not in there or set(MAP) <= set(there))


@pytest.mark.parametrize("forever", [False, True], ids=["once", "from then on"])
@pytest.mark.parametrize("code", [errno.EIO, errno.ENOSPC, errno.ENODEV, errno.EROFS])
def test_a_fault_at_any_step_leaves_no_half_map(tmp_path: Path, forever: bool, code: int) -> None:
    """Each step in turn fails: one clear line, nothing left where the fault passes; the next copy completes."""
    told = set()
    files = machine(tmp_path / "a", MAP)
    for at in range(1, 100):
        stick = tmp_path / f"stick-{at}"
        stick.mkdir()
        fault = Fault(at, forever=forever, code=code)
        problem = ""
        with disturbed(fault):
            try:
                put_on_stick(files, stick)
            except OutputError as err:
                problem = err.problem
        if not fault.hit:
            break
        assert named_files_are_whole(stick), f"step {at}"
        if problem and not forever:
            assert on(stick) == {}, f"step {at}"
        told.add(problem)
        put_on_stick(files, stick)
        assert {name: data for name, data in on(stick).items() if name in MAP} == MAP
    else:
        pytest.fail("the steps never end")
    assert at > 15
    words = {
        errno.EIO: "The stick can't be written: the disk reports a fault.",
        errno.ENOSPC: "The stick can't be written: there is no room left on the disk.",
        errno.ENODEV: "The stick is no longer there: it was pulled out, or its contact is loose.",
        errno.EROFS: "The stick can't be written: the disk can only be read.",
    }
    assert told - {""} == {words[code]}


def test_a_stick_that_vanishes_half_way_is_one_clear_line(
    tmp_path: Path, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its folder is gone with all in it."""
    real, count = os.fsync, 0

    def fsync(handle: int) -> None:
        nonlocal count
        count += 1
        if count == 2:
            stick.rename(tmp_path / "pocket")
        real(handle)

    monkeypatch.setattr(os, "fsync", fsync)
    with pytest.raises(OutputError, match="no longer there") as caught:
        put_on_stick(machine(tmp_path / "a", MAP), stick)
    assert caught.value.where == str(stick)
    assert "copy again" in caught.value.remedy
    assert not stick.exists()


CHILD = """
import os, signal, sys
from pathlib import Path
sys.path[:0] = sys.argv[4:]
from test_stick import MAP, machine
from vrx.exports.stick import put_on_stick

files, at, count = machine(Path(sys.argv[1]), MAP), int(sys.argv[3]), 0

def wrap(real):
    def step(*args, **options):
        global count
        count += 1
        if count == at:
            os.kill(os.getpid(), signal.SIGKILL)
        return real(*args, **options)
    return step

for name in ("mkdir", "open", "write", "fsync", "rename", "unlink", "rmdir"):
    setattr(os, name, wrap(getattr(os, name)))
put_on_stick(files, Path(sys.argv[2]))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of POSIX")
def test_a_kill_at_any_step_leaves_no_half_map(tmp_path: Path) -> None:
    """A real process is killed at each third step: every name is whole, and the next copy completes and tidies up."""
    tests = Path(__file__).parents[1]
    for at in range(1, 100, 3):
        stick = tmp_path / f"stick-{at}"
        stick.mkdir()
        words = [sys.executable, "-c", CHILD, str(tmp_path / "a"), str(stick), str(at)]
        child = subprocess.run(
            [*words, str(tests), str(tests / "exports"), str(tests.parent)], capture_output=True, text=True, check=False
        )
        if child.returncode == 0:
            break
        assert child.returncode == -signal.SIGKILL, child.stderr
        assert named_files_are_whole(stick), f"step {at}"
        put_on_stick(machine(tmp_path / "a", MAP), stick)
        assert on(stick) == MAP
    else:
        pytest.fail("the steps never end")
    assert at > 15


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device that is always full")
def test_room_that_runs_out_all_the_same_is_said(tmp_path: Path, stick: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A write that the system refuses for want of room, though there seemed to be enough."""
    real = os.open

    def opened(path: str | Path, *args: int, **options: int) -> int:
        full = str(path).endswith(".geojson")
        return real("/dev/full", os.O_WRONLY) if full else real(path, *args, **options)

    monkeypatch.setattr(os, "open", opened)
    with pytest.raises(OutputError, match="no room left"):
        put_on_stick(machine(tmp_path / "a", MAP), stick)
    assert on(stick) == {}


# --- other builds


def names_on(stick: Path, *names: str) -> None:
    for name in names:
        (stick / name).write_bytes(b"")


def test_other_builds_are_known_by_their_names(stick: Path) -> None:
    """All before the code is the same; a season, product or field more or less is another map."""
    others = ["north-40_2027_urea_22aa.shp", "NORTH-40_2027_UREA_33BB.SHP", "north-40_2027_urea_22aa.dbf"]
    names_on(
        stick,
        *others,
        f"{NORTH}.shp",
        "north-40_2026_urea_22aa.shp",
        "north-40_2027_uan_22aa.shp",
        "south-40_2027_urea_22aa.shp",
        "north-40_2027_urea_22aa.txt",
        "north-40_2027_urea_22a.shp",
        "north-40_2027_urea_221a.shp",  # no code has a 1
        "notes.txt",
    )
    assert other_builds(stick, [NORTH]) == {
        "NORTH-40_2027_UREA_33BB": ("NORTH-40_2027_UREA_33BB.SHP",),
        "north-40_2027_urea_22aa": ("north-40_2027_urea_22aa.shp", "north-40_2027_urea_22aa.dbf"),
    }


def test_a_map_that_is_known_to_be_replaced_counts_under_any_name(stick: Path) -> None:
    """After a swap the product in the name is another one."""
    names_on(stick, "north-40_2027_uan_22aa.geojson", "north-40_2027_uan_33bb.geojson")
    assert list(other_builds(stick, [NORTH], ["north-40_2027_uan_22aa"])) == ["north-40_2027_uan_22aa"]


def test_files_taken_off_are_gone_and_others_stay(stick: Path) -> None:
    """One that is gone already is no error."""
    names_on(stick, "a.shp", "b.shp")
    remove_from_stick(stick, ["a.shp", "c.shp"])
    assert list(on(stick)) == ["b.shp"]


def test_the_system_is_asked_for_room(stick: Path) -> None:
    """As the standard library tells it."""
    assert stick_module.free_bytes(stick) == pytest.approx(
        os.statvfs(stick).f_bavail * os.statvfs(stick).f_frsize, rel=0.2
    )
