"""Zip files: members are read into memory, within limits, and nothing is ever unpacked onto a disk."""

from __future__ import annotations

import io
import lzma
import re
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from vrx.errors import InputError
from vrx.inputs.files import check_bytes

MOST_MEMBERS: Final = 10_000
MOST_BYTES: Final = 2**31
"""Size of all members together, unpacked; a ``.shp`` can't be larger either."""
MOST_RATIO: Final = 200
_HARMLESS_BYTES: Final = 2**25

_GHOST: Final = re.compile(r"(?:^|/)(?:__MACOSX/|\._|\.DS_Store$|Thumbs\.db$)")
_CLIMBS: Final = re.compile(r"(?:^|/)\.\.(?:/|$)|^/|^[A-Za-z]:")


class Archive:
    """The members of a zip file.

    Parameters
    ----------
    file : path or bytes
        Where it lies, or the whole file, such as one within another.
    source : str
        Its name, as people are told it.

    Attributes
    ----------
    names : tuple of str
        Real files, with forward slashes; the ghosts that some systems add are left out.
    """

    def __init__(self, file: Path | bytes, *, source: str) -> None:
        self._file = file
        self._source = source
        with self._opened() as archive:
            infos = [info for info in archive.infolist() if not info.filename.endswith(("/", "\\"))]
        self._infos = {info.filename.replace("\\", "/"): info for info in infos}
        self._check(infos)
        self.names = tuple(name for name in self._infos if name and not _GHOST.search(name))

    def read(self, name: str) -> bytes:
        """Return a member's bytes.

        Raises
        ------
        InputError
            Encrypted, damaged, packed in a way that can't be read, or larger than any map.
        """
        info = self._infos[name]
        check_bytes(info.file_size, source=f"{self._source}/{name}")
        if info.flag_bits & 1:
            raise self._refused(f"{name!r} in it is locked with a password.", "Have it sent without a password.")
        with self._opened() as archive:
            return archive.read(info)

    def _check(self, infos: list[zipfile.ZipInfo]) -> None:
        if len(infos) > MOST_MEMBERS:
            raise self._refused(f"It holds {len(infos)} files; {MOST_MEMBERS} are read at most.")
        climbing = [name for name in self._infos if _CLIMBS.search(name)]
        if climbing:
            raise self._refused(f"A file in it is named {climbing[0][:80]!r}, which leads outside the zip file.")
        size = sum(info.file_size for info in infos)
        packed = sum(info.compress_size for info in infos)
        if size > MOST_BYTES or (size > _HARMLESS_BYTES and size > MOST_RATIO * packed):
            raise self._refused(
                f"Unpacked it would take {size / 1e6:.0f} MB (from {packed / 1e6:.3f} MB), more than a map takes.",
                "Unpack it by hand, look at it, and name the file itself.",
            )

    @contextmanager
    def _opened(self) -> Iterator[zipfile.ZipFile]:
        try:
            with zipfile.ZipFile(self._file if isinstance(self._file, Path) else io.BytesIO(self._file)) as archive:
                yield archive
        except (zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, NotImplementedError, ValueError) as err:
            raise self._refused(f"The zip file is damaged or of an unknown kind: {err}.") from None
        except (RuntimeError, OSError) as err:
            raise self._refused(f"The zip file can't be read: {err}.") from None

    def _refused(self, problem: str, remedy: str = "Have it zipped and sent again.") -> InputError:
        return InputError(problem, remedy=remedy, where=self._source)
