"""A build killed, or without room, at any step: the old bundle or the new one is whole, and the next run is clean."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from support_bundles import files_in
from support_fields import bench, digests

from vrx.cli.main import main
from vrx.exports.bundle import restore_aside

pytestmark = [
    pytest.mark.skipif(sys.platform == "win32", reason="forks, SIGKILL and limits of a process are of POSIX"),
    pytest.mark.slow,
]

TESTS = Path(__file__).resolve().parents[1]
FORMATS = '[receiver]\nformats = ["shapefile", "geojson", "geopackage"]\n'

Files = dict[str, bytes]


@contextmanager
def start_folder(base: Path, *, old: bool) -> Iterator[tuple[Path, Files | None, Files]]:
    """Make ``BASE/start``: a plan, changed since its bundle was written, if any; yield what the two bundles hold.

    Without pictures, which are written like all else and take long to draw.
    """
    start = base / "start"
    plan = bench(start, rest=FORMATS)
    path = start / "plan.toml"
    before = None
    if old:
        path.write_text(plan, encoding="utf-8")
        assert main(["build", str(path), "--no-pictures"]) == 0
        before = files_in(start / "plan-bundle")
    path.write_text("revision = 2\n" + plan.replace('"200 kg/ha"', '"120 kg/ha"'), encoding="utf-8")
    after_folder = shutil.copytree(start, base / "after")
    assert main(["build", str(after_folder / "plan.toml"), "--force", "--no-pictures"]) == 0
    after = files_in(after_folder / "plan-bundle")
    assert after
    assert after != before
    yield start, before, after


def ends_of(how: str, base: Path) -> list[tuple[int, str]]:
    """Run the program that disturbs builds; return how each ended."""
    done = subprocess.run(
        [sys.executable, str(TESTS / "support_kill.py"), how, str(base)],
        env=os.environ | {"PYTHONPATH": str(TESTS.parent)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return [(code, said) for code, said in json.loads(done.stdout.splitlines()[-1])]


def leftovers(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir() if path.name.startswith(".")]


def next_run_is_clean(folder: Path, after: Files) -> None:
    """The next run leaves the new bundle, nothing beside it, and the inputs as they were."""
    inputs = {name: digest for name, digest in digests(folder).items() if not name.startswith(".")}
    assert main(["build", str(folder / "plan.toml"), "--force", "--no-pictures"]) == 0
    found = files_in(folder / "plan-bundle")
    assert found == after
    assert leftovers(folder) == []
    assert digests(folder) == inputs


@pytest.mark.parametrize("old", [False, True], ids=["nothing before", "an old bundle"])
def test_a_kill_at_any_step(old: bool, tmp_path: Path) -> None:
    """A build is killed before each of its steps: what is found after is whole, and the next run settles the rest.

    The next run's bundle is, byte for byte, the one that an undisturbed run writes over the old one: it knows what it
    supersedes even where the old bundle had been moved aside.
    """
    with start_folder(tmp_path, old=old) as (_, before, after):
        ends = ends_of("kill", tmp_path)
        seen = []
        for at, (code, said) in enumerate(ends, start=1):
            assert (code, said) == ((-signal.SIGKILL, "") if at < len(ends) else (0, "")), f"step {at}"
            folder = tmp_path / str(at)
            copy = shutil.copytree(folder, tmp_path / f"{at} seen")
            restore_aside(copy / "plan-bundle")
            seen.append(files_in(copy / "plan-bundle"))
            assert seen[-1] in (before, after), f"step {at}"
            next_run_is_clean(folder, after)
        assert len(ends) > 20
        assert seen[0] == before
        assert seen[-1] == after
        first_new = seen.index(after)
        assert all(found == before for found in seen[:first_new])
        assert all(found == after for found in seen[first_new:])


@pytest.mark.parametrize("how", ["full", "once"])
def test_no_room_at_any_step(how: str, tmp_path: Path) -> None:
    """A disk without room from a step on, or for one step: the error says so, and the bundle is the old one, whole.

    Where the new one is in place already, what is left to do can wait, and the build is fine.
    """
    with start_folder(tmp_path, old=True) as (_, before, after):
        ends = ends_of(how, tmp_path)
        assert ends[-1] == (0, "")  # it never came to so many steps, or only to some that can wait
        assert sum(code == 2 for code, _ in ends) > 15
        for at, (code, said) in enumerate(ends, start=1):
            folder = tmp_path / str(at)
            if code:
                assert "no room left on the disk" in said, f"step {at}: {said}"
                assert said.count("\n") == 1
                restore_aside(folder / "plan-bundle")
                assert files_in(folder / "plan-bundle") == before, f"step {at}"
                assert how == "once" or leftovers(folder) == []
            else:
                assert said == ""
                assert files_in(folder / "plan-bundle") == after, f"step {at}"
            next_run_is_clean(folder, after)


def test_files_that_may_hold_only_so_much(tmp_path: Path) -> None:
    """Under a limit of bytes a file, from none to enough: an error in words and the old bundle, or the new one."""
    with start_folder(tmp_path, old=True) as (_, before, after):
        ends = ends_of("limit", tmp_path)
        assert ends[0][0] == 2
        for at, (code, said) in enumerate(ends, start=1):
            folder = tmp_path / str(at)
            assert code in (0, 2)
            if code:
                assert "larger than is allowed" in said, said
                assert said.count("\n") == 1
            assert files_in(folder / "plan-bundle") == (before if code else after)
            assert leftovers(folder) == []


def test_a_folder_that_may_only_be_read(capsys: pytest.CaptureFixture[str]) -> None:
    """Without the right to write there, the build ends with 2 and says so; nothing is left."""
    with tempfile.TemporaryDirectory() as name:
        base = Path(name)
        base.chmod(0o755)
        plan = base / "plan.toml"
        plan.write_text(bench(base), encoding="utf-8")
        closed = base / "closed"
        closed.mkdir()
        closed.chmod(0o555)
        user = os.geteuid()
        assert main(["build", str(plan), "--out", str(base / "open")]) == 0  # every module is loaded
        capsys.readouterr()
        if user == 0:
            os.seteuid(65534)  # to an administrator nothing is read-only
        try:
            assert main(["build", str(plan), "--out", str(closed / "bundle")]) == 2
        finally:
            os.seteuid(user)
        said = capsys.readouterr().err
        assert "not allowed" in said
        assert str(closed) in said
        assert said.count("\n") == 1
        assert not list(closed.iterdir())
