"""Files as a person names them: is it there, can it be read, and what is near it."""

from __future__ import annotations

import difflib
import stat
from pathlib import Path
from typing import Final

from vrx.errors import InputError

MOST_BYTES: Final = 2**29
"""Of one file that is read whole: a shapefile of ten million vertices has a third of it."""


def file_and_name(text: str) -> tuple[str, str]:
    """Part ``FILE#NAME``, where a name, and a file too, may hold a # of its own; no file where none is meant.

    A file is meant where one is there, or where its name would end with ``.toml``.

    Examples
    --------
    >>> file_and_name("none_there.toml#Mix #2"), file_and_name("Mix #2")
    (('none_there.toml', 'Mix #2'), ('', 'Mix #2'))
    """
    parted = [(text[:at], text[at + 1 :]) for at, letter in enumerate(text) if letter == "#" and at]
    meant = [one for one in parted if _is_file(one[0])] or [one for one in parted if one[0].endswith(".toml")]
    return meant[-1] if meant else ("", text)


def _is_file(path: str) -> bool:
    try:
        return Path(path).is_file()
    except (OSError, ValueError):
        return False


def existing(path: Path) -> bool:
    """Tell whether a path is a folder (True) or a regular file (False), before anything is opened.

    Raises
    ------
    InputError
        Nothing is there, or a device, pipe or socket.
    """
    try:
        mode = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        raise InputError("There is no such file.", remedy=_near(path), where=str(path)) from None
    except (OSError, ValueError) as err:
        reason = getattr(err, "strerror", None) or str(err)
        raise InputError(f"The file can't be looked at: {reason}.", remedy="Check its name.", where=str(path)) from None
    if stat.S_ISDIR(mode):
        return True
    if not stat.S_ISREG(mode):
        raise InputError(
            "This is neither a file nor a folder (a pipe, socket or device).",
            remedy="Give a file that can be read again and again.",
            where=str(path),
        )
    return False


def read_bytes(path: Path) -> bytes:
    """Read a whole regular file.

    Raises
    ------
    InputError
        It is missing or can't be read.
    """
    if existing(path):
        raise InputError("This is a folder, not a file.", remedy="Name a file in it.", where=str(path))
    try:
        check_bytes(path.stat().st_size, source=str(path))
        return path.read_bytes()
    except OSError as err:
        raise InputError(
            f"The file can't be read: {err.strerror}.", remedy="Check who may read it.", where=str(path)
        ) from None


def check_bytes(size: int, *, source: str, most: int = MOST_BYTES) -> None:
    """Refuse a file that is larger than any map, before it is read.

    Raises
    ------
    InputError
        It has more than ``most`` bytes.
    """
    if size > most:
        raise InputError(
            f"The file has {size / 1e6:,.0f} MB, more than a map takes; {most / 1e6:,.0f} MB are read at most.",
            remedy="Save the part around the field as a layer of its own, best as a GeoPackage.",
            where=source,
        )


def listing(folder: Path) -> list[Path]:
    """Return what lies in a folder, sorted by name.

    Raises
    ------
    InputError
        The folder can't be read.
    """
    try:
        return sorted(folder.iterdir())
    except OSError as err:
        raise InputError(
            f"The folder can't be read: {err.strerror}.", remedy="Check who may read it.", where=str(folder)
        ) from None


def _near(path: Path) -> str:
    folder = path.parent
    try:
        names = [child.name for child in sorted(folder.iterdir())]
    except (OSError, ValueError):
        return f"There is no folder {str(folder)!r} either; check the path."
    by_case = [name for name in names if name.casefold() == path.name.casefold()]
    close = by_case or difflib.get_close_matches(path.name, names, n=1, cutoff=0.6)
    same_stem = [name for name in names if Path(name).stem.casefold() == path.stem.casefold()]
    for name in (*close, *same_stem):
        return f"There is {name!r} in that folder; did you mean it?"
    return "Check the path and the spelling."
