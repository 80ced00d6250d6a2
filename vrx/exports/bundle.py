"""Writing a folder all or nothing: whatever happens, the old one or the new one is there, whole.

Beside a folder ``NAME`` only these names are used:

``.NAME.HOST-PID-XXXXXXXX.tmp``
    A folder being filled or being deleted by the process ``PID`` of the computer ``HOST`` (a digest of its name).
    Once that process is gone it is rubbish.
``.NAME.aside``
    The old folder, whole, while the new one takes its place.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import platform
import re
import secrets
import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final, TypeVar

from vrx.errors import OutputError
from vrx.words import some

T = TypeVar("T")

MANIFEST: Final = "manifest.json"

# What a desktop puts into a folder that was looked at: nobody misses it.
_LEFT_BY_SYSTEMS: Final = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})

_WORDS: Final[dict[int, tuple[str, str]]] = {
    errno.ENOSPC: ("there is no room left on the disk", "Make room, or choose another folder."),
    errno.EDQUOT: ("your share of the disk is used up", "Make room, or choose another folder."),
    errno.EFBIG: ("a file is larger than is allowed here", "Choose a folder on another disk."),
    errno.EACCES: ("writing is not allowed, or a file in it is open elsewhere", "Close it, or choose another folder."),
    errno.EPERM: ("writing is not allowed", "Choose a folder that you may write to."),
    errno.EROFS: ("the disk can only be read", "Choose a folder that you may write to."),
    errno.ENOTDIR: ("a part of its path is a file", "Choose a path that leads through folders."),
    errno.ENAMETOOLONG: ("its name is too long", "Choose a shorter name."),
    errno.EXDEV: ("it is where another disk begins", "Choose a folder inside that disk."),
    errno.EBUSY: ("it is in use", "Close the program that uses it, or choose another folder."),
    errno.EIO: ("the disk reports a fault", "Check the disk, or choose another one."),
    errno.EEXIST: ("another run wrote it meanwhile", "Look at what is there, and run again."),
    errno.ENOTEMPTY: ("another run wrote it meanwhile", "Look at what is there, and run again."),
}


def write_bundle(target: Path, fill: Callable[[Path], T], *, force: bool) -> T:
    """Write a folder all or nothing.

    Parameters
    ----------
    target : Path
        The folder to write; missing parents are made. A link is followed.
    fill : callable
        Gets an empty folder beside the target, writes everything into it, a ``manifest.json`` included, and verifies
        it; raises to abort, and then nothing is changed.
    force : bool
        Replace a bundle that is there. A folder that is neither empty nor holds a ``manifest.json`` is never replaced,
        nor one with a file that its ``manifest.json`` does not list among its ``outputs``.

    Returns
    -------
    object
        What ``fill`` returned.

    Raises
    ------
    OutputError
        The target is there and may not be replaced, or the system refuses a step: no room, no right ...

    Notes
    -----
    A crash, a full disk or a kill at any step leaves the old folder or the new one whole; where it is between the two
    renames, the old one waits aside until :func:`restore_aside`, which every call does first.
    """
    with _plain_words(target):
        target = _real(target)
        restore_aside(target)
        _refuse(target, force=force)
        _remove_rubbish(target)
        made = _make_parents(target.parent)
    try:
        return _fill_and_place(target, fill, force=force)
    except BaseException:
        for folder in reversed(made):
            with suppress(OSError):  # not empty: someone else uses it by now
                folder.rmdir()
        raise


def restore_aside(target: Path) -> None:
    """Settle what a killed run left: put an old folder back that has no successor, delete one that has.

    Raises
    ------
    OutputError
        The system refuses.
    """
    with _plain_words(target):
        target = _real(target)
        aside = _aside(target)
        if not aside.is_dir():
            return
        if target.is_dir() and not any(target.iterdir()):
            target.rmdir()  # an empty folder is no successor
        if not os.path.lexists(target):
            aside.rename(target)
            _sync(target.parent)
        elif _is_bundle(target) and _replaceable(aside):
            _delete(aside, target)


def remove_bundle(target: Path) -> None:
    """Delete a folder that a build wrote; one with files that its manifest does not list stays as it is.

    Raises
    ------
    OutputError
        The system refuses.
    """
    with _plain_words(target):
        if not _unlisted(target):
            _delete(_real(target), target)


def _fill_and_place(target: Path, fill: Callable[[Path], T], *, force: bool) -> T:
    with _plain_words(target):
        folder = _own_name(target)
        folder.mkdir()
        try:
            result = fill(folder)
            _sync_all(folder)
            _place(folder, target, force=force)
        except BaseException:
            shutil.rmtree(folder, ignore_errors=True)
            raise
    return result


def _place(folder: Path, target: Path, *, force: bool) -> None:
    aside = _aside(target)
    replaced = os.path.lexists(target)
    _refuse(target, force=force)  # again: someone may have come since the start
    try:
        if replaced:
            target.rename(aside)
        folder.rename(target)
    except BaseException:
        if replaced:
            # Should this fail as well, the next run puts it back.
            with suppress(OSError):
                aside.rename(target)
        raise
    # From here on the new one is in place: what is left can wait for the next run.
    with suppress(OSError):
        _sync(target.parent)
        if replaced:
            _delete(aside, target)


def _real(target: Path) -> Path:
    real = Path(os.path.realpath(target))
    if not real.name:
        raise OutputError("This is a whole disk, not a folder in it.", remedy="Choose a folder.", where=str(target))
    return real


def _refuse(target: Path, *, force: bool) -> None:
    if not os.path.lexists(target):
        return
    if not target.is_dir():
        raise OutputError("This is a file, not a folder.", remedy="Choose another folder.", where=str(target))
    if not _replaceable(target):
        raise OutputError(
            f"The folder is there and is not a bundle: it has no {MANIFEST}.",
            remedy="Choose another folder: one that vrx did not write is never replaced.",
            where=str(target),
        )
    if not force:
        raise OutputError(
            "The folder is there already.",
            remedy="Choose another folder, or say --force to replace it.",
            where=str(target),
        )
    others = _unlisted(target)
    if others:
        raise OutputError(
            f"The folder holds what no build wrote: {some(others)}.",
            remedy="Move that out of the folder, or choose another folder: it would be deleted with the old bundle.",
            where=str(target),
        )


def _unlisted(folder: Path) -> list[str]:
    """Return the files in a folder that its manifest does not list, with ``/``."""
    if not folder.is_dir():
        return []
    listed = _listed(folder)
    there = (path for path in folder.rglob("*") if path.is_symlink() or not path.is_dir())
    names = (path.relative_to(folder).as_posix() for path in there if path.name not in _LEFT_BY_SYSTEMS)
    return sorted(name for name in names if name not in listed)


def _listed(folder: Path) -> set[str]:
    try:
        manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        return {MANIFEST, *(str(one["path"]) for one in manifest["outputs"])}
    except (OSError, ValueError, KeyError, TypeError):
        return {MANIFEST}


def _is_bundle(folder: Path) -> bool:
    return (folder / MANIFEST).is_file()


def _replaceable(folder: Path) -> bool:
    return _is_bundle(folder) or not any(folder.iterdir())


def _aside(target: Path) -> Path:
    return target.with_name(f".{target.name}.aside")


def _own_name(target: Path) -> Path:
    return target.with_name(f".{target.name}.{_host()}-{os.getpid()}-{secrets.token_hex(4)}.tmp")


def _host() -> str:
    return hashlib.sha256(platform.node().encode()).hexdigest()[:8]


def _remove_rubbish(target: Path) -> None:
    """Remove what dead processes of this computer left; what another computer left may be in use."""
    pattern = re.compile(rf"\.{re.escape(target.name)}\.{_host()}-(\d+)-[0-9a-f]{{8}}\.tmp")
    if not target.parent.is_dir():
        return
    for path in target.parent.iterdir():
        match = pattern.fullmatch(path.name)
        if match and not _alive(int(match[1])):
            shutil.rmtree(path, ignore_errors=True)


def _alive(pid: int) -> bool:
    if sys.platform == "win32":
        return True  # there signal 0 would end the process; its rubbish stays until someone deletes it
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OverflowError):
        return True
    return True


def _delete(folder: Path, target: Path) -> None:
    # Renamed first: a half deleted folder must never be taken for an old one to put back.
    rubbish = _own_name(target)
    folder.rename(rubbish)
    shutil.rmtree(rubbish, ignore_errors=True)


def _make_parents(folder: Path) -> list[Path]:
    """Make the missing folders of a path and return them, the outermost first."""
    missing = [each for each in (folder, *folder.parents) if not os.path.lexists(each)]
    nearest = missing[-1].parent if missing else folder
    if not nearest.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
    folder.mkdir(parents=True, exist_ok=True)
    return missing[::-1]


def _sync_all(folder: Path) -> None:
    """Have the disk hold a folder and all in it, before it gets its name."""
    for path in (*folder.rglob("*"), folder):
        _sync(path)
    _sync(folder.parent)


def _sync(path: Path) -> None:
    if sys.platform == "win32" and path.is_dir():
        return  # folders can't be opened there
    handle = os.open(path, os.O_RDONLY if sys.platform != "win32" else os.O_RDWR)
    try:
        os.fsync(handle)
    except OSError as err:
        # Some network disks do not know this for folders; the files are safe by then.
        if not path.is_dir() or err.errno not in (errno.EINVAL, errno.ENOTSUP, errno.EBADF):
            raise
    finally:
        os.close(handle)


@contextmanager
def _plain_words(target: Path) -> Iterator[None]:
    """Turn what the system refuses into words; errors of our own pass."""
    try:
        yield
    except OSError as err:
        reason, remedy = _WORDS.get(err.errno or 0, (err.strerror or str(err), "Choose another folder."))
        raise OutputError(f"The folder can't be written: {reason}.", remedy=remedy, where=str(target)) from err
