"""Writing one map into a folder that holds other things: all of its files or none.

While they are being written they lie in a hidden folder beside their place (see :mod:`vrx.exports.bundle` for its
name). They get their names when all of them were read back: what belongs to a map first, the file that is opened last.
So whatever happens on the way, there is no file to open that is not whole.
"""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path

from vrx.errors import OutputError
from vrx.exports.system import own_name, plain_words, remove_rubbish, sync, sync_all


def write_files(main: Path, names: Sequence[str], fill: Callable[[Path], object], *, force: bool) -> tuple[Path, ...]:
    """Write the files of one map, all or none, and return them, the one to open first.

    Parameters
    ----------
    main : Path
        The file to open; its folder has to be there.
    names : sequence of str
        All files, that one first.
    fill : callable
        Gets an empty folder, writes just these files into it and verifies them; raises to abort, and then nothing is
        changed.
    force : bool
        Replace files of these names.

    Raises
    ------
    OutputError
        The folder is not there, a file of one of these names is, or the system refuses a step.
    """
    targets = tuple(main.with_name(name) for name in names)
    with plain_words(main, "file"):
        if not main.parent.is_dir():
            raise OutputError("There is no such folder.", remedy="Make it first.", where=str(main.parent))
        refuse_present(targets, force=force)
        remove_rubbish(main)
        aside = own_name(main)
        aside.mkdir()
        try:
            new, old = aside / "new", aside / "old"
            new.mkdir()
            old.mkdir()
            fill(new)
            sync_all(new)
            _place(targets, new, old, force=force)
        except BaseException:
            shutil.rmtree(aside / "new", ignore_errors=True)
            # An old file that could not get its name back is somebody's only one: it waits here.
            for folder in (aside / "old", aside):
                with suppress(OSError):
                    folder.rmdir()
            raise
        shutil.rmtree(aside, ignore_errors=True)
    with suppress(OSError):  # they have their names by now
        sync(main.parent)
    return targets


def refuse_present(targets: Sequence[Path], *, force: bool) -> None:
    """Refuse to write where something is that may not be replaced.

    Raises
    ------
    OutputError
        One of the files is there and ``force`` is not said, or a folder of that name.
    """
    for path in targets:
        if path.is_dir():
            raise OutputError("There is a folder of that name.", remedy="Choose another name.", where=str(path))
        if os.path.lexists(path) and not force:
            raise OutputError(
                "There is a file of that name already.",
                remedy="Choose another name, or add --force to replace it.",
                where=str(path),
            )


def _place(targets: Sequence[Path], new: Path, old: Path, *, force: bool) -> None:
    placed: list[Path] = []
    moved: list[Path] = []
    try:
        for path in targets:  # the file that is opened goes first: the others alone open nowhere
            if os.path.lexists(path):
                if not force:  # someone may have come since the start
                    raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST))
                path.rename(old / path.name)
                moved.append(path)
        for path in reversed(targets):
            (new / path.name).rename(path)
            placed.append(path)  # only then is it ours to take away again
    except BaseException:
        for path in reversed(placed):
            with suppress(OSError):
                path.unlink()
        for path in reversed(moved):
            with suppress(OSError):
                (old / path.name).rename(path)
        raise
