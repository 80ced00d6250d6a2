"""Faults, kills, full disks and missing rights: at every step the old folder or the new one is there, whole."""

from __future__ import annotations

import errno
import json
import os
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from support_bundles import NEW, OLD, files_in, names_in, put
from support_faults import Fault, disturbed

from vrx.errors import OutputError
from vrx.exports.bundle import restore_aside, write_bundle


@pytest.fixture
def old(tmp_path: Path) -> Path:
    target = tmp_path / "out" / "north 40"
    write_bundle(target, put(OLD), force=False)
    return target


# --- a step that fails


@pytest.mark.parametrize("forever", [False, True], ids=["once", "from then on"])
@pytest.mark.parametrize("start", [None, OLD], ids=["nothing before", "an old bundle"])
def test_a_fault_at_any_step_leaves_old_or_new_whole(
    tmp_path: Path, start: dict[str, bytes] | None, forever: bool
) -> None:
    """Each step in turn fails: what the next run finds is whole, and there was an error where it is not the new one."""
    outcomes = set()
    for at in range(1, 200):
        target = tmp_path / str(at) / "bundle"
        if start:
            write_bundle(target, put(start), force=False)
        fault = Fault(at, forever=forever)
        told = ""
        with disturbed(fault):
            try:
                write_bundle(target, put(NEW), force=True)
            except OutputError as err:
                told = err.problem
        if not fault.hit:
            break
        restore_aside(target)
        found = files_in(target)
        assert found == (start if told else NEW), f"step {at}"
        outcomes.add(told)
        write_bundle(target, put(NEW), force=True)
        assert files_in(target) == NEW
    else:
        pytest.fail("the steps never end")
    assert at > 15
    assert outcomes == {
        "The folder can't be written: the disk reports a fault.",
        "",
    }  # some faults cost the run, those after the renames do not


def test_a_new_folder_that_can_not_take_its_place_gives_it_back(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where only the second rename fails, the old folder is back at once, without waiting for another run."""
    real = os.rename

    def rename(source: Path, to: Path) -> None:
        if Path(source).suffix == ".tmp":
            raise OSError(errno.EACCES, os.strerror(errno.EACCES))
        real(source, to)

    monkeypatch.setattr(os, "rename", rename)
    with pytest.raises(OutputError, match="not allowed"):
        write_bundle(old, put(NEW), force=True)
    assert files_in(old) == OLD
    assert names_in(old.parent) == ["north 40"]


# --- a process that is killed

CHILD = """
import json, os, signal, sys
from pathlib import Path
from vrx.exports.bundle import write_bundle

target, at, before = Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3] == "before"
count = 0

def wrap(real):
    def step(*args, **options):
        global count
        count += 1
        mine = count
        if before and mine == at:
            os.kill(os.getpid(), signal.SIGKILL)
        try:
            return real(*args, **options)
        finally:
            if mine == at:
                os.kill(os.getpid(), signal.SIGKILL)
    return step

def fill(folder):
    for name, text in json.loads(sys.argv[4]).items():
        (folder / name).parent.mkdir(exist_ok=True)
        handle = os.open(folder / name, os.O_WRONLY | os.O_CREAT)
        os.write(handle, text.encode())
        os.close(handle)

for name in ("mkdir", "open", "write", "fsync", "rename", "unlink", "rmdir"):
    setattr(os, name, wrap(getattr(os, name)))
write_bundle(target, fill, force=True)
"""


def run_child(code: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    root = str(Path(__file__).parents[2])
    return subprocess.run(
        [sys.executable, "-c", code, *arguments],
        env=os.environ | {"PYTHONPATH": root},
        timeout=60,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of POSIX")
@pytest.mark.parametrize("moment", ["before", "after"])
@pytest.mark.parametrize("start", [None, OLD], ids=["nothing before", "an old bundle"])
def test_a_kill_at_any_step_leaves_old_or_new_whole(
    tmp_path: Path, start: dict[str, bytes] | None, moment: str
) -> None:
    """A real process is killed at each step: the next run finds the old bundle or the new one, whole, and tidies up."""
    seen, new = [], json.dumps({name: data.decode() for name, data in NEW.items()})
    for at in range(1, 200):
        target = tmp_path / str(at) / "bundle"
        if start:
            write_bundle(target, put(start), force=False)
        child = run_child(CHILD, str(target), str(at), moment, new)
        if child.returncode == 0:
            break
        assert child.returncode == -signal.SIGKILL, child.stderr
        restore_aside(target)
        seen.append(files_in(target))
        assert seen[-1] in (start, NEW), f"step {at}"
        write_bundle(target, put(NEW), force=True)
        assert files_in(target) == NEW
        assert names_in(target.parent) == ["bundle"]
    else:
        pytest.fail("the steps never end")
    assert at > 15
    assert seen[0] == start
    assert all(found == NEW for found in seen[seen.index(NEW) :])


# --- a disk that is full, a folder that may not be written to


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device that is always full")
def test_a_full_disk_leaves_the_old_bundle(old: Path) -> None:
    """A write that the system refuses for want of room is said in words, and the old bundle is whole."""

    def fill(folder: Path) -> None:
        put(NEW)(folder)
        Path("/dev/full").write_bytes(b"x" * 100)

    with pytest.raises(OutputError, match="no room left"):
        write_bundle(old, fill, force=True)
    assert files_in(old) == OLD
    assert names_in(old.parent) == ["north 40"]


@pytest.mark.skipif(sys.platform == "win32", reason="limits of a process are of POSIX")
@pytest.mark.parametrize("form", ["shapefile", "geojson", "geopackage"])
def test_a_map_that_finds_no_room_is_an_error(old: Path, form: str) -> None:
    """Every format's writer, in a process that may write 300 bytes a file, fails loudly, never with a short file."""
    code = """
import resource, sys
from pathlib import Path
from support_sheets import sheet_of
from vrx.errors import OutputError
from vrx.exports.bundle import write_bundle
from vrx.exports.formats import write_sheet

resource.setrlimit(resource.RLIMIT_FSIZE, (300, 300))
try:
    write_bundle(Path(sys.argv[1]), lambda folder: write_sheet(sheet_of(), folder, sys.argv[2]), force=True)
except OutputError as err:
    print(err)
"""
    tests = Path(__file__).parents[1]
    child = run_child(f"import sys; sys.path.insert(0, {str(tests)!r})\n{code}", str(old), form)
    assert "larger than is allowed" in child.stdout, child.stderr
    assert files_in(old) == OLD
    assert names_in(old.parent) == ["north 40"]


@pytest.mark.skipif(sys.platform == "win32", reason="rights of a folder are of POSIX")
@pytest.mark.parametrize("start", [None, OLD], ids=["nothing before", "an old bundle"])
def test_a_read_only_folder_is_said_in_words(start: dict[str, bytes] | None) -> None:
    """Without the right to write beside the bundle, the error says so and everything is as it was."""
    with tempfile.TemporaryDirectory() as name:
        parent = Path(name)
        if start:
            write_bundle(parent / "bundle", put(start), force=False)
        parent.chmod(0o555)
        try:
            with _as_nobody(), pytest.raises(OutputError, match="not allowed") as caught:
                write_bundle(parent / "bundle", put(NEW), force=True)
            assert caught.value.where == str(parent / "bundle")
            assert files_in(parent / "bundle") == start
            assert names_in(parent) == (["bundle"] if start else [])
        finally:
            parent.chmod(0o755)


@contextmanager
def _as_nobody() -> Iterator[None]:
    """Lay down the rights of an administrator, to whom nothing is read-only."""
    user = os.geteuid()
    if user == 0:
        os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(user)
