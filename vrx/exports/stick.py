"""Machine files on a stick: side by side, none over another, read back, and whole or not at all.

Nothing but maps stays on a stick. While they are being written they lie in a hidden folder of their own, and get their
names when all of them were read back: what belongs to a map first, the file that is opened last.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import shutil
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from vrx.errors import InputError, OutputError
from vrx.exports.manifest import sha256_of
from vrx.exports.names import CODE_LENGTH, CODE_LETTERS
from vrx.exports.system import own_name, plain_words, remove_rubbish, sync
from vrx.model.loadable import RESERVED_STEMS

# What FAT and its kin can't hold in a name, and the most characters of one. Source: ECMA-107 for short names, the
# long ones as common practice; from memory.
_NOT_IN_FAT: Final = re.compile(r'[\x00-\x1f"*/:<>?\\|]|[. ]$')
_LONGEST_NAME: Final = 255
# A file takes whole clusters of a disk; sticks have up to 32 KiB. Common practice, no source.
_CLUSTER: Final = 32 * 1024
_STEM: Final = re.compile(rf"(?P<base>.+)_[{CODE_LETTERS}]{{{CODE_LENGTH}}}")
_MAIN: Final = (".shp", ".geojson", ".gpkg")
_ENDINGS: Final = (*_MAIN, ".shx", ".dbf", ".prj", ".cpg")
_GONE: Final = (errno.ENODEV, errno.ENXIO, errno.ENOENT, errno.ESTALE)


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineFile:
    """A file to put on a stick.

    Attributes
    ----------
    source : Path
        Where it lies in its bundle; it keeps its name.
    sha256 : str
        From the manifest, in hexadecimal.
    field : str
        The field that it is for, in words.
    """

    source: Path
    sha256: str
    field: str

    @property
    def name(self) -> str:
        """Its name, on the stick too."""
        return self.source.name


def main_file(files: Sequence[MachineFile]) -> Path:
    """Return the file of a bundle that is opened to see its map."""
    return min((one.source for one in files), key=lambda path: _main_first(path.name))


def free_bytes(folder: Path) -> int:
    """Return how many bytes the disk of a folder has room for."""
    return shutil.disk_usage(folder).free


def put_on_stick(
    files: Sequence[MachineFile], folder: Path, *, free: Callable[[Path], int] = free_bytes
) -> tuple[MachineFile, ...]:
    """Put files side by side into a folder of a stick, all or none, and return those that were not there yet.

    Parameters
    ----------
    files : sequence of MachineFile
    folder : Path
        The stick or a folder in it; a folder that is missing is made, the one that it stands in has to be there.
    free : callable
        How many bytes a folder's disk has room for.

    Raises
    ------
    VrxError
        Another file of the same name is there or among the files, there is no room, a file does not come back as it
        was written, or the stick is gone; what this call wrote is taken away again where the stick allows it.
    """
    wanted = _side_by_side(files)
    with _stick_words(folder):
        remove_rubbish(folder / "vrx-copy")
        missing = [one for one in wanted if not _is_there(one, folder)]
        if not missing:
            return ()
        _refuse_without_room(missing, folder, free)
        made = not folder.is_dir()
        if made:
            folder.mkdir()
        try:
            _write_and_place(missing, folder)
        except BaseException:
            if made:
                with suppress(OSError):
                    folder.rmdir()
            raise
    return tuple(missing)


def other_builds(folder: Path, names: Iterable[str], superseded: Iterable[str] = ()) -> Mapping[str, tuple[str, ...]]:
    """Return the maps in a folder that are other builds of the same field, season and product, by their names.

    Parameters
    ----------
    names : iterable of str
        Names of maps without ending: ``north-40_2027_urea_k7mq``. What stands before the code tells them apart.
    superseded : iterable of str
        Names of maps that are known to be replaced, whatever they are called.

    Returns
    -------
    mapping of str to tuple of str
        For each map by its name: its files, the one to open first.
    """
    own = {one.casefold() for one in names}
    bases = {match["base"] for one in own if (match := _STEM.fullmatch(one))}
    old = {one.casefold() for one in superseded}
    found: dict[str, list[str]] = {}
    with plain_words(folder, "stick"):
        for path in sorted(folder.iterdir()) if folder.is_dir() else ():
            stem = path.stem.casefold()
            match = _STEM.fullmatch(stem)
            if path.suffix.lower() not in _ENDINGS or stem in own or not path.is_file():
                continue
            if stem in old or (match and match["base"] in bases):
                found.setdefault(path.stem, []).append(path.name)
    return {stem: tuple(sorted(each, key=_main_first)) for stem, each in found.items()}


def remove_from_stick(folder: Path, names: Iterable[str]) -> None:
    """Take files off a stick.

    Raises
    ------
    OutputError
        The system refuses; those before it are gone.
    """
    with _stick_words(folder, "Put it back in, and copy again."):
        for name in names:
            (folder / name).unlink(missing_ok=True)
        sync(folder)


def _side_by_side(files: Sequence[MachineFile]) -> list[MachineFile]:
    """Return files each once; refuse two of one name, whatever their capitals, and names that a stick can't hold."""
    held: dict[str, MachineFile] = {}
    for one in files:
        other = held.setdefault(one.name.casefold(), one)
        if (other.name, other.sha256) != (one.name, one.sha256):
            raise OutputError(
                f"Two files can't lie side by side: {other.name} of {other.field}, and {one.name} of {one.field}.",
                remedy="Copy them into different folders, or build one of the two under another field name.",
                where=str(one.source),
            )
        stem = one.name.partition(".")[0].lower()
        if _NOT_IN_FAT.search(one.name) or len(one.name) > _LONGEST_NAME or stem in RESERVED_STEMS:
            raise OutputError(
                f"{one.name!r} is a name that a stick can't hold.",
                remedy="Build the plan again, and leave the names of its files as they are.",
                where=str(one.source),
            )
    return list(held.values())


def _is_there(file: MachineFile, folder: Path) -> bool:
    """Tell whether a file is on the stick already; refuse another one under its name."""
    there = (
        [path for path in folder.iterdir() if path.name.casefold() == file.name.casefold()] if folder.is_dir() else []
    )
    for path in there:
        if path.name != file.name or not path.is_file() or sha256_of(path) != file.sha256:
            raise OutputError(
                f"{path} is there with other contents than {file.source}, of {file.field}: it may be another field's, "
                "or was changed.",
                remedy="Copy into another folder; or look at the one on the stick, and delete it if nobody needs it.",
                where=str(folder),
            )
    return bool(there)


def _refuse_without_room(files: Sequence[MachineFile], folder: Path, free: Callable[[Path], int]) -> None:
    needed = sum(-(-one.source.stat().st_size // _CLUSTER) * _CLUSTER for one in files)
    room = free(folder if folder.is_dir() else folder.parent)
    if needed > room:
        raise OutputError(
            f"The stick has no room: it takes {needed / 1024:,.0f} KiB, and {room / 1024:,.0f} KiB are free.",
            remedy="Make room on it, or take another one. Nothing was written.",
            where=str(folder),
        )


def _write_and_place(files: Sequence[MachineFile], folder: Path) -> None:
    aside = own_name(folder / "vrx-copy")
    placed: list[Path] = []
    aside.mkdir()
    try:
        for one in files:
            _write(one, aside / one.name)
        sync(aside)
        for one in sorted(files, key=lambda one: _main_first(one.name), reverse=True):
            target = folder / one.name
            if os.path.lexists(target):  # someone may have come since the start
                raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST))
            (aside / one.name).rename(target)
            placed.append(target)  # only then is it ours to take away again
        sync(folder)
    except BaseException:
        for path in placed:
            with suppress(OSError):
                path.unlink(missing_ok=True)
        raise
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def _write(file: MachineFile, path: Path) -> None:
    """Write a file, have the stick hold it, and read it back."""
    data = _read(file)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        left = memoryview(data)
        while left:
            left = left[os.write(handle, left) :]
        os.fsync(handle)
        if hasattr(os, "posix_fadvise"):
            # Read back from the stick, not from the memory that still holds what was written.
            os.posix_fadvise(handle, 0, 0, os.POSIX_FADV_DONTNEED)
    finally:
        os.close(handle)
    if hashlib.sha256(path.read_bytes()).hexdigest() != file.sha256:
        raise OutputError(
            f"{file.name} does not come back from the stick as it was written.",
            remedy="Take another stick: this one loses data. Nothing was left on it.",
            where=str(path.parent.parent),
        )


def _read(file: MachineFile) -> bytes:
    try:
        data = file.source.read_bytes()
    except OSError as err:
        raise InputError(
            f"The file can't be read: {err.strerror or err}.", remedy="Build the plan again.", where=str(file.source)
        ) from err
    if hashlib.sha256(data).hexdigest() != file.sha256:
        raise InputError(
            "This is not the file that was built: its checksum differs from the manifest's.",
            remedy="Build the plan again; a changed map is not copied.",
            where=str(file.source),
        )
    return data


def _main_first(name: str) -> tuple[int, str]:
    ending = Path(name).suffix.lower()
    return (_MAIN.index(ending) if ending in _MAIN else len(_MAIN), name)


@contextmanager
def _stick_words(
    folder: Path, remedy: str = "Put it back in, and copy again: no map was left on it half-written."
) -> Iterator[None]:
    """Turn what the system refuses into words; a stick that was pulled out is told as such."""
    try:
        with plain_words(folder, "stick"):
            yield
    except OutputError as err:
        cause = err.__cause__
        if isinstance(cause, OSError) and (cause.errno in _GONE or not _is_folder(folder.parent)):
            raise OutputError(
                "The stick is no longer there: it was pulled out, or its contact is loose.",
                remedy=remedy,
                where=str(folder),
            ) from cause
        raise


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except OSError:
        return False
