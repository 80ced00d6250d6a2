"""Where a mended map is written: never over a file that was read, under a name that a receiver loads."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from vrx.errors import OutputError
from vrx.exports.names import CODE_LENGTH, CODE_LETTERS, file_stem
from vrx.exports.side_by_side import refuse_present
from vrx.exports.system import plain_words
from vrx.inputs.shapefile import PARTS
from vrx.model.checked_map import CheckedMap
from vrx.model.loadable import NAME_LENGTH, plain_stem, reserved_stem
from vrx.model.receiver import Format

FORMATS: Final[dict[str, Format]] = {".shp": "shapefile", ".geojson": "geojson", ".gpkg": "geopackage"}
_MENDED: Final = "-mended"
_OWN: Final = re.compile(rf"{_MENDED}_[{CODE_LETTERS}]{{{CODE_LENGTH}}}$")
_CODE: Final = re.compile(rf"_[{CODE_LETTERS}]{{{CODE_LENGTH}}}$")
_SHORTEST: Final = 6  # a letter, and the code with its line


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """Where a mended map goes.

    Attributes
    ----------
    path : Path
        The file to open; where ``named`` is false, with a stem that is still to be found.
    named : bool
        A person gave the name.
    base : str
        What the stem begins with otherwise.
    longest : int
        Most characters of the stem.
    """

    path: Path
    form: Format
    named: bool
    base: str
    longest: int
    inputs: tuple[Path, ...]
    force: bool

    @property
    def files(self) -> tuple[str, ...]:
        """Names of all files that are written, the one to open first."""
        endings = PARTS if self.form == "shapefile" else (self.path.suffix,)
        return tuple(f"{self.path.stem}{ending}" for ending in dict.fromkeys((self.path.suffix, *endings)))

    def stem(self, code: str) -> str:
        """Return the stem of the file: the one given, or one with a code of its contents."""
        if self.named:
            return self.path.stem
        if self.longest < len(_MENDED) + _SHORTEST:
            return file_stem(self.base, None, "", code, longest=self.longest)
        stem = file_stem(self.base, None, "", code, longest=self.longest - len(_MENDED))
        return f"{stem.removesuffix(f'_{code}')}{_MENDED}_{code}"


def target_of(
    out: Path, *, maps: Sequence[Path], inputs: Sequence[Path], force: bool, on: CheckedMap | None = None
) -> Target:
    """Settle where a mended map goes.

    Raises
    ------
    OutputError
        The name does not end as a map's does or does not load, a file that was read or is there would be replaced.
    """
    longest = NAME_LENGTH if on is None or on.plan is None else on.plan.receiver.name_length
    with plain_words(out, "file"):
        named_file = not out.is_dir()
        path = out if named_file else out / f"{_base(maps[0], on)}{_ending(maps[0])}"
        form = FORMATS.get(path.suffix.lower())
        if form is None:
            raise OutputError(
                "A mended map is written as .shp, .geojson or .gpkg, or into a folder that is there.",
                remedy=f"Let the name end with one of these; this one ends with {path.suffix or 'none'}.",
                where=str(out),
            )
        # Endings in capitals are another file to some systems and the same one to others.
        path = path.with_suffix(path.suffix.lower())
        target = Target(
            path=path,
            form=form,
            named=named_file,
            base=_base(maps[0], on),
            longest=longest,
            inputs=tuple(part for one in inputs for part in _with_parts(one)),
            force=force,
        )
        _refuse_folder_of_map(path.parent, maps)
        if named_file:
            _refuse_name(path, longest)
            _refuse_taken(target)
    return target


def named(target: Target, stem: str) -> Target:
    """Return a target with the stem that was found.

    Raises
    ------
    OutputError
        A file that was read or is there would be replaced.
    """
    found = replace(target, path=target.path.with_name(f"{stem}{target.path.suffix}"))
    with plain_words(found.path, "file"):
        _refuse_taken(found)
    return found


def _base(path: Path, on: CheckedMap | None) -> str:
    stem = _OWN.sub("", path.stem)
    # What stands behind the last line is a code where a bundle says so, and may be a word elsewhere.
    return _CODE.sub("", stem) if on is not None and on.built_as is not None else stem


def _ending(path: Path) -> str:
    return path.suffix.lower() if path.suffix.lower() in FORMATS else ".shp"


def _with_parts(path: Path) -> list[Path]:
    if path.suffix.lower() != ".shp" or not path.parent.is_dir():
        return [path]
    stem = path.stem.casefold()
    beside = [one for one in path.parent.iterdir() if one.stem.casefold() == stem and one.suffix.lower() in PARTS]
    return [path, *beside]


def _refuse_folder_of_map(folder: Path, maps: Sequence[Path]) -> None:
    if any(one.is_dir() and _same(one, folder) for one in maps):
        raise OutputError(
            "This folder is the map itself: a second map in it would make it two.",
            remedy="Choose another folder.",
            where=str(folder),
        )


def _refuse_name(path: Path, longest: int) -> None:
    if len(path.stem) > longest:
        problem = f"has {len(path.stem)} characters before its dot, and {longest} load"
    elif not plain_stem(path.stem):
        problem = "has other characters than plain letters, digits, - and _"
    elif reserved_stem(path.stem):
        problem = "is kept by Windows for a device"
    else:
        return
    raise OutputError(
        f"The file name {path.name!r} {problem}.", remedy="Choose a plainer one, or name a folder.", where=str(path)
    )


def _refuse_taken(target: Target) -> None:
    files = [target.path.with_name(name) for name in target.files]
    own = [one for one in files if any(_same(one, other) or _one_name(one, other) for other in target.inputs)]
    if own:
        raise OutputError(
            "A map is never mended in place: this is a file that was read, or by its name it is one on a stick.",
            remedy="Choose another name.",
            where=str(own[0]),
        )
    refuse_present(files, force=target.force)


def _same(one: Path, other: Path) -> bool:
    """Tell whether two paths lead to one file, by links of either kind, or to one name where it is not there yet."""
    try:
        return one.samefile(other)
    except OSError:
        return os.path.realpath(one) == os.path.realpath(other)


def _one_name(one: Path, other: Path) -> bool:
    """Tell whether two paths differ by capitals alone: on sticks, and most computers, they are one file."""
    return os.path.realpath(one).casefold() == os.path.realpath(other).casefold()
