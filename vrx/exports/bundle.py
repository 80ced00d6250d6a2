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
import json
import os
import shutil
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Final, TypeVar

from vrx.errors import OutputError
from vrx.exports.system import own_name, plain_words, remove_rubbish, sync, sync_all
from vrx.words import some

T = TypeVar("T")

MANIFEST: Final = "manifest.json"

# What a desktop puts into a folder that was looked at: nobody misses it.
_LEFT_BY_SYSTEMS: Final = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})


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
    with plain_words(target):
        target = _real(target)
        restore_aside(target)
        _refuse(target, force=force)
        remove_rubbish(target)
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
    with plain_words(target):
        target = _real(target)
        aside = _aside(target)
        if not aside.is_dir():
            return
        if target.is_dir() and not any(target.iterdir()):
            target.rmdir()  # an empty folder is no successor
        if not os.path.lexists(target):
            aside.rename(target)
            sync(target.parent)
        elif _is_bundle(target) and _replaceable(aside):
            _delete(aside, target)


def remove_bundle(target: Path) -> None:
    """Delete a folder that a build wrote; one with files that its manifest does not list stays as it is.

    Raises
    ------
    OutputError
        The system refuses.
    """
    with plain_words(target):
        if not _unlisted(target):
            _delete(_real(target), target)


def _fill_and_place(target: Path, fill: Callable[[Path], T], *, force: bool) -> T:
    with plain_words(target):
        folder = own_name(target)
        folder.mkdir()
        try:
            result = fill(folder)
            sync_all(folder)
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
        sync(target.parent)
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


def _delete(folder: Path, target: Path) -> None:
    # Renamed first: a half deleted folder must never be taken for an old one to put back.
    rubbish = own_name(target)
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
