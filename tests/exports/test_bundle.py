"""Writing a folder all or nothing: no crash, full disk, refusal or kill at any step loses the old or the new one."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from support_bundles import NEW, OLD, files_in, names_in, put

from vrx.errors import GeometryError, OutputError
from vrx.exports import system
from vrx.exports.bundle import remove_bundle, restore_aside, write_bundle


@pytest.fixture
def target(tmp_path: Path) -> Path:
    return tmp_path / "out" / "north 40"


@pytest.fixture
def old(target: Path) -> Path:
    write_bundle(target, put(OLD), force=False)
    return target


def test_a_new_folder_is_written(target: Path) -> None:
    """The folder and its missing parents are made, fill's answer comes back, and nothing else lies beside it."""
    assert write_bundle(target, put(NEW), force=False) == "written"
    assert files_in(target) == NEW
    assert names_in(target.parent) == ["north 40"]
    assert target.stat().st_mode == target.parent.stat().st_mode


def test_a_folder_that_is_there_is_kept_without_force(old: Path) -> None:
    """Fill is not even called."""
    with pytest.raises(OutputError, match="there already") as caught:
        write_bundle(old, lambda _: pytest.fail("called"), force=False)
    assert "--force" in caught.value.remedy
    assert caught.value.where.endswith("north 40")
    assert files_in(old) == OLD


def test_force_replaces_the_whole_folder(old: Path) -> None:
    """Files of the old bundle that the new one lacks are gone, and nothing is left beside it."""
    assert write_bundle(old, put(NEW), force=True) == "written"
    assert files_in(old) == NEW
    assert names_in(old.parent) == ["north 40"]


@pytest.mark.parametrize(
    "name",
    [
        pytest.param("paper/photo.jpg", id="a photo beside the papers"),
        pytest.param("as-applied/log.csv", id="a folder of its own"),
        pytest.param("machine/map.qix", id="an index beside a map"),
    ],
)
def test_force_deletes_no_file_that_the_manifest_does_not_list(old: Path, name: str) -> None:
    """What a person put into the bundle is named, and nothing is replaced; moved away, the bundle may be."""
    there = old / name
    there.parent.mkdir(exist_ok=True)
    there.write_bytes(b"mine")
    with pytest.raises(OutputError, match=f"no build wrote: {name}") as caught:
        write_bundle(old, lambda _: pytest.fail("called"), force=True)
    assert caught.value.where.endswith("north 40")
    assert files_in(old) == OLD | {name: b"mine"}
    there.unlink()
    write_bundle(old, put(NEW), force=True)
    assert files_in(old) == NEW


def test_a_file_that_came_while_the_new_bundle_was_written_is_kept(old: Path) -> None:
    """Looked at again just before the old one is moved: a photo saved meanwhile stops it."""

    def fill(folder: Path) -> None:
        put(NEW)(folder)
        (old / "photo.jpg").write_bytes(b"mine")

    with pytest.raises(OutputError, match=r"no build wrote: photo\.jpg"):
        write_bundle(old, fill, force=True)
    assert files_in(old) == OLD | {"photo.jpg": b"mine"}
    assert names_in(old.parent) == ["north 40"]


def test_what_a_desktop_leaves_in_a_folder_is_in_nobody_s_way(old: Path) -> None:
    """A folder that was looked at may hold .DS_Store or Thumbs.db."""
    (old / ".DS_Store").write_bytes(b"x")
    (old / "paper").mkdir(exist_ok=True)
    (old / "paper" / "Thumbs.db").write_bytes(b"x")
    write_bundle(old, put(NEW), force=True)
    assert files_in(old) == NEW


def test_a_bundle_with_other_files_in_it_is_not_removed(old: Path) -> None:
    """It stays whole; without them it goes."""
    (old / "photo.jpg").write_bytes(b"mine")
    remove_bundle(old)
    assert files_in(old) == OLD | {"photo.jpg": b"mine"}
    (old / "photo.jpg").unlink()
    remove_bundle(old)
    assert files_in(old) is None


@pytest.mark.parametrize("force", [False, True])
def test_a_folder_of_someone_else_is_never_replaced(tmp_path: Path, force: bool) -> None:
    """Files but no manifest: not ours, force or not."""
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "a.jpg").write_bytes(b"x")
    with pytest.raises(OutputError, match="not a bundle"):
        write_bundle(tmp_path / "photos", lambda _: pytest.fail("called"), force=force)
    assert files_in(tmp_path / "photos") == {"a.jpg": b"x"}


def test_an_empty_folder_is_replaced_with_force_only(target: Path) -> None:
    """An empty folder holds nothing to lose, but it is there."""
    target.mkdir(parents=True)
    with pytest.raises(OutputError, match="there already"):
        write_bundle(target, put(NEW), force=False)
    write_bundle(target, put(NEW), force=True)
    assert files_in(target) == NEW


def test_a_file_in_the_way_is_kept(target: Path) -> None:
    """A file, as the folder or as a part of its path, is named and kept."""
    target.parent.mkdir()
    target.write_bytes(b"x")
    with pytest.raises(OutputError, match="a file, not a folder"):
        write_bundle(target, put(NEW), force=True)
    with pytest.raises(OutputError, match="part of its path is a file"):
        write_bundle(target / "below", put(NEW), force=True)
    assert target.read_bytes() == b"x"


def test_a_link_is_followed(old: Path, tmp_path: Path) -> None:
    """The folder behind the link is replaced, and the link stays."""
    link = tmp_path / "link"
    link.symlink_to(old, target_is_directory=True)
    write_bundle(link, put(NEW), force=True)
    assert link.is_symlink()
    assert files_in(old) == NEW


def test_the_root_of_a_disk_is_refused() -> None:
    """There is nothing beside it."""
    with pytest.raises(OutputError, match="whole disk"):
        write_bundle(Path("/"), put(NEW), force=True)


@pytest.mark.parametrize("error", [GeometryError("not valid"), ValueError("a bug"), KeyboardInterrupt()], ids=repr)
@pytest.mark.parametrize("force", [False, True])
def test_fill_aborts_by_raising(target: Path, tmp_path: Path, error: BaseException, force: bool) -> None:
    """What was there stays, the error comes through as it is, and no folder is left, made parents neither."""
    if force:
        write_bundle(target, put(OLD), force=False)

    def fill(folder: Path) -> None:
        put(NEW)(folder)
        raise error

    with pytest.raises(type(error)) as caught:
        write_bundle(target, fill, force=force)
    assert caught.value is error
    assert files_in(target) == (OLD if force else None)
    assert names_in(tmp_path) == (["out"] if force else [])
    if force:
        assert names_in(target.parent) == ["north 40"]


@pytest.mark.parametrize(
    ("number", "words"),
    [
        pytest.param(errno.ENOSPC, "no room", id="full"),
        pytest.param(errno.EDQUOT, "share of the disk", id="quota"),
        pytest.param(errno.EROFS, "only be read", id="read-only disk"),
        pytest.param(errno.EACCES, "not allowed", id="no right"),
        pytest.param(errno.ENAMETOOLONG, "too long", id="name"),
        pytest.param(errno.EMFILE, "open files", id="no words of ours"),
    ],
)
def test_what_the_system_refuses_is_said_in_words(target: Path, number: int, words: str) -> None:
    """An error of the system becomes an OutputError with the reason, the folder and a remedy."""

    def fill(folder: Path) -> None:
        raise OSError(number, os.strerror(number))

    with pytest.raises(OutputError, match=words) as caught:
        write_bundle(target, fill, force=False)
    assert caught.value.where == str(target)
    assert caught.value.remedy
    assert not target.parent.exists()


def test_a_folder_filled_meanwhile_is_kept(target: Path) -> None:
    """Another run that was faster keeps its bundle, and one that is no bundle is not replaced by force."""

    def meanwhile(content: dict[str, bytes]) -> Callable[[Path], None]:
        def fill(folder: Path) -> None:
            put(NEW)(folder)
            target.mkdir()
            put(content)(target)

        return fill

    with pytest.raises(OutputError):
        write_bundle(target, meanwhile({"a.jpg": b"x"}), force=True)
    assert files_in(target) == {"a.jpg": b"x"}
    (target / "a.jpg").unlink()
    target.rmdir()
    with pytest.raises(OutputError):
        write_bundle(target, meanwhile(OLD), force=False)
    assert files_in(target) == OLD
    assert names_in(target.parent) == ["north 40"]


# --- what dead runs left


def ended_process() -> int:
    child = subprocess.Popen([sys.executable, "-c", ""])
    child.wait()
    return child.pid


def test_an_old_folder_without_successor_is_put_back(old: Path) -> None:
    """A run that was killed between its renames left the old folder aside: it comes back."""
    old.rename(old.with_name(".north 40.aside"))
    restore_aside(old)
    assert files_in(old) == OLD
    assert names_in(old.parent) == ["north 40"]
    restore_aside(old)
    assert files_in(old) == OLD


def test_an_old_folder_with_a_successor_is_deleted(old: Path) -> None:
    """A run that was killed after its renames left the old folder aside: the new one is there, so it goes."""
    old.rename(old.with_name(".north 40.aside"))
    put(NEW)(_made(old))
    restore_aside(old)
    assert files_in(old) == NEW
    assert names_in(old.parent) == ["north 40"]


def test_an_empty_folder_is_no_successor(old: Path) -> None:
    """Someone made the missing folder anew before the next run: the old one still comes back."""
    old.rename(old.with_name(".north 40.aside"))
    old.mkdir()
    restore_aside(old)
    assert files_in(old) == OLD
    assert names_in(old.parent) == ["north 40"]


def test_files_of_someone_else_are_no_successor(old: Path) -> None:
    """Where other files took the old folder's place, it is neither deleted nor put over them."""
    old.rename(old.with_name(".north 40.aside"))
    put({"a.jpg": b"x"})(_made(old))
    restore_aside(old)
    assert files_in(old) == {"a.jpg": b"x"}
    assert files_in(old.with_name(".north 40.aside")) == OLD


def test_a_strange_folder_named_aside_is_never_deleted(old: Path) -> None:
    """Files but no manifest: not ours, whatever its name."""
    put({"a.jpg": b"x"})(_made(old.with_name(".north 40.aside")))
    restore_aside(old)
    assert files_in(old.with_name(".north 40.aside")) == {"a.jpg": b"x"}


def test_every_run_restores_first(old: Path) -> None:
    """Without force the restored folder stands in the way, as it should."""
    old.rename(old.with_name(".north 40.aside"))
    with pytest.raises(OutputError, match="there already"):
        write_bundle(old, put(NEW), force=False)
    assert files_in(old) == OLD


def test_rubbish_of_dead_runs_goes_and_that_of_live_ones_stays(target: Path) -> None:
    """Folders of ended processes are removed; of live ones, other computers, other bundles and strangers they stay."""
    host = system.host()
    alive, dead = os.getpid(), ended_process()
    stay = [
        f".north 40.{host}-{alive}-00000000.tmp",
        f".north 40.ffffffff-{dead}-00000000.tmp",
        f".south 40.{host}-{dead}-00000000.tmp",
        f".north 40.{host}-{dead}-note.tmp",
        "north 40 old",
    ]
    for name in [*stay, f".north 40.{host}-{dead}-00000000.tmp"]:
        put(NEW)(_made(target.with_name(name)))
    write_bundle(target, put(NEW), force=False)
    assert names_in(target.parent) == sorted([*stay, "north 40"])


def test_two_runs_at_once_both_end_whole(target: Path) -> None:
    """A run inside another: the inner one's bundle stays, and the outer one, without force, gives way."""

    def outer(folder: Path) -> None:
        put(OLD)(folder)
        write_bundle(target, put(NEW), force=False)

    with pytest.raises(OutputError, match="there already"):
        write_bundle(target, outer, force=False)
    assert files_in(target) == NEW
    assert names_in(target.parent) == ["north 40"]

    def forced(folder: Path) -> None:
        put(OLD)(folder)
        write_bundle(target, put(NEW), force=True)

    write_bundle(target, forced, force=True)
    assert files_in(target) == OLD
    assert names_in(target.parent) == ["north 40"]


def _made(folder: Path) -> Path:
    folder.mkdir(parents=True)
    return folder
