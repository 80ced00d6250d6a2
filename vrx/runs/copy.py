"""Putting the machine files of bundles on a stick, and looking for other builds of the same fields there."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from vrx.errors import InputError, OutputError, Problems, VrxError
from vrx.exports.manifest import sha256_of
from vrx.exports.stick import MachineFile, free_bytes, main_file, other_builds, put_on_stick, remove_from_stick
from vrx.geo.crs import WGS84, move_shapes
from vrx.inputs.read import read_layer
from vrx.model.build import Build
from vrx.model.copied import Copied, CopiedFile
from vrx.model.finding import Finding
from vrx.runs.build import build
from vrx.runs.manifest import is_ours, read_manifest

# West, south, east and north in degrees.
_Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bundle:
    """A bundle as its manifest tells it.

    Attributes
    ----------
    field : str
        Client, farm and field, in words.
    owner : tuple of str
        Client and farm; empty where the plan does not say.
    maps : tuple of str
        Names of its maps, without endings.
    superseded : tuple of str
        Names of the maps that it takes the place of.
    """

    folder: Path
    field: str
    owner: tuple[str, str]
    maps: tuple[str, ...]
    superseded: tuple[str, ...]
    files: tuple[MachineFile, ...]


def copy(
    bundles: Sequence[Path | str],
    stick: Path | str,
    *,
    folder: str = "",
    remove_older: bool = False,
    free: Callable[[Path], int] = free_bytes,
) -> Copied:
    """Put the machine files of bundles side by side on a stick, and read them back.

    Parameters
    ----------
    bundles : sequence of path
        Folders that builds wrote.
    stick : path
        The stick, or a folder in it; it has to be there.
    folder : str
        A folder in it to use, made where it is missing.
    remove_older : bool
        Take maps of other builds of the same field, season, product and ground off the stick, once the new ones are
        there.
    free : callable
        How many bytes the disk of a folder has room for.

    Raises
    ------
    VrxError
        A bundle can't be used, or the stick can't be written: then nothing of it was changed.
    """
    target = _target(Path(stick), folder)
    found = _read(bundles)
    _refuse_bundles(found, target)
    files = [file for one in found for file in one.files]
    new = {file.name for file in put_on_stick(files, target, free=free)}
    findings, older = _others(found, target)
    removed = older if remove_older else ()
    remove_from_stick(target, removed)
    return Copied(
        folder=target,
        files=tuple(
            CopiedFile(name=one.name, sha256=one.sha256, field=one.field, is_new=one.name in new)
            for one in {one.name: one for one in files}.values()
        ),
        removed=removed,
        findings=tuple(one for one in findings if not (removed and one.id == "stick-older")),
    )


def build_and_copy(plan: Path | str, stick: Path | str, **options: Any) -> tuple[Build, Copied | None]:
    """Build a plan, and put its maps on a stick; a stick that is not there is said before anything is built.

    Parameters
    ----------
    options
        As of :func:`vrx.runs.build.build`.

    Returns
    -------
    Build, Copied or None
        None where a finding stopped the build: nothing is copied then.

    Raises
    ------
    VrxError
        As of both; a bundle that was built stays.
    """
    _target(Path(stick), "")
    built = build(plan, **options)
    if built.bundle is None:
        return built, None
    try:
        return built, copy([built.bundle], stick)
    except VrxError as err:
        one = err.each[0]
        remedy = f"{one.remedy} The bundle is whole, in {built.bundle}: vrx copy puts it on a stick.".lstrip()
        raise type(one)(one.problem, remedy=remedy, where=one.where) from err


def _target(stick: Path, folder: str) -> Path:
    try:
        there = stick.is_dir()
    except OSError:
        there = False
    if not there:
        raise OutputError(
            "There is no such stick or folder.",
            remedy="Put it in, and name the folder under which it appears; it is not made.",
            where=str(stick),
        )
    if folder and (folder in (".", "..") or Path(folder).name != folder or any(one in folder for one in ':\\*?"<>|')):
        raise OutputError(
            f"{folder!r} is not the name of one folder.", remedy="Give a plain name, such as maps.", where=str(stick)
        )
    return stick / folder if folder else stick


def _read(bundles: Sequence[Path | str]) -> list[_Bundle]:
    found, errors = [], []
    # The same folder named twice is one.
    for folder in {os.path.realpath(one): Path(one) for one in bundles}.values():
        try:
            found.append(_bundle(folder))
        except VrxError as err:
            errors.append(err)
    if errors:
        raise errors[0] if len(errors) == 1 else Problems(errors)
    return found


def _bundle(folder: Path) -> _Bundle:
    manifest = read_manifest(folder)
    if not is_ours(manifest):
        raise InputError(
            "This is no bundle: it has no manifest that vrx wrote.",
            remedy="Name a folder that vrx build wrote.",
            where=str(folder),
        )
    if manifest.get("stopped"):
        raise InputError(
            "This is the report of a build that was stopped: there are no maps in it.",
            remedy="Settle what stopped the build, and build the plan again.",
            where=str(folder),
        )
    plan, supersedes = _table(manifest.get("plan")), _table(manifest.get("supersedes"))
    field = ", ".join(str(plan[key]) for key in ("client", "farm", "field") if plan.get(key)) or folder.name
    files = tuple(_machine_files(folder, manifest, field))
    for one in files:
        if sha256_of(one.source) != one.sha256:
            raise InputError(
                f"{one.name} is not the file that was built: its checksum differs from the manifest's.",
                remedy="Build the plan again; a changed map is not copied.",
                where=str(folder),
            )
    if not files:
        raise InputError("The bundle holds no maps.", remedy="Build the plan again.", where=str(folder))
    return _Bundle(
        folder=folder,
        field=field,
        owner=(str(plan.get("client") or ""), str(plan.get("farm") or "")),
        maps=tuple(dict.fromkeys(one.source.stem for one in files)),
        superseded=tuple(_texts(supersedes.get("maps"))),
        files=files,
    )


def _machine_files(folder: Path, manifest: Mapping[str, object], field: str) -> Iterator[MachineFile]:
    outputs = manifest.get("outputs")
    for one in outputs if isinstance(outputs, list) else ():
        said = _table(one)
        parts = Path(str(said.get("path", ""))).parts
        # A path that leads elsewhere is none that a build wrote.
        if len(parts) == 2 and parts[0] == "machine" and parts[1] != "..":
            yield MachineFile(source=folder.joinpath(*parts), sha256=str(said.get("sha256")), field=field)


def _texts(value: object) -> Iterator[str]:
    yield from (one for one in (value if isinstance(value, list) else ()) if isinstance(one, str))


def _table(value: object) -> Mapping[str, object]:
    return value if isinstance(value, dict) else {}


def _refuse_bundles(bundles: Sequence[_Bundle], target: Path) -> None:
    """Refuse a stick that is in a bundle, and two builds of one field at a time."""
    real = Path(os.path.realpath(target))
    for at, one in enumerate(bundles):
        if real.is_relative_to(os.path.realpath(one.folder)):
            raise OutputError(
                "The folder to copy to is in a bundle.", remedy="Name a stick or another folder.", where=str(target)
            )
        for other in bundles[:at]:
            replaced = set(one.maps) & set(other.superseded) or set(other.maps) & set(one.superseded)
            namesakes = any(_has_other_code(name, other.maps) for name in one.maps)
            if replaced or (namesakes and _one_owner(one, other) and _one_ground(one, other)):
                raise InputError(
                    f"{other.folder} and {one.folder} are two builds of the same field, season and product.",
                    remedy="Name only the one that is to be driven.",
                    where=str(one.folder),
                )


def _one_owner(one: _Bundle, other: _Bundle) -> bool:
    """Whether two bundles may be of one client and farm; a plan that does not name them rules nothing out."""
    pairs = zip(one.owner, other.owner, strict=True)
    return all(not a or not b or a.casefold() == b.casefold() for a, b in pairs)


def _one_ground(one: _Bundle, other: _Bundle) -> bool:
    """Whether the maps of two bundles may lie on the same ground: also where one can't be read."""
    grounds = [_bounds(main_file(bundle.files)) for bundle in (one, other)]
    return any(ground is None for ground in grounds) or _meet(*(ground for ground in grounds if ground is not None))


def _has_other_code(name: str, names: Sequence[str]) -> bool:
    base, _, code = name.rpartition("_")
    return any(other.rpartition("_")[0] == base and other.rpartition("_")[2] != code for other in names)


def _others(bundles: Sequence[_Bundle], folder: Path) -> tuple[list[Finding], tuple[str, ...]]:
    """Say which other builds of the same fields lie on the stick, and return the files of those that are sure to be."""
    findings: list[Finding] = []
    older: list[str] = []
    own = {name for one in bundles for name in one.maps}
    for one in bundles:
        found = {
            stem: names for stem, names in other_builds(folder, one.maps, one.superseded).items() if stem not in own
        }
        ground = _bounds(main_file(one.files)) if found else None
        for stem, names in found.items():
            finding = _finding(one, stem, folder / names[0], ground)
            findings.append(finding)
            older += names if finding.id == "stick-older" else ()
    return findings, tuple(older)


def _finding(bundle: _Bundle, stem: str, path: Path, ground: _Bounds | None) -> Finding:
    there = _bounds(path)
    if there is None or ground is None:
        return Finding(
            id="stick-unreadable",
            severity="caution",
            message=f"The stick holds {stem}, named as a map of {bundle.field} is, and it can't be read.",
            remedy="Look what it is, and delete it if nobody needs it.",
        )
    if not _meet(there, ground):
        return Finding(
            id="stick-namesake",
            severity="note",
            message=f"The stick holds {stem}, a map of other ground than {bundle.field}: it is left as it is.",
            remedy="Tell them apart by the code on the cab card.",
        )
    if stem in bundle.superseded:
        return _older(f"The stick holds {stem}, which the build that was copied replaces ({bundle.field}).")
    return _older(
        f"The stick holds {stem}, by name and ground another build of the same field, season and product "
        f"({bundle.field})."
    )


def _older(message: str) -> Finding:
    return Finding(
        id="stick-older",
        severity="caution",
        message=message,
        remedy="Load the one with the code on the cab card; take the other off the stick, as --remove-older does.",
    )


def _bounds(path: Path) -> _Bounds | None:
    """Return where a map lies; None where it can't be read."""
    try:
        layer = read_layer(path)
        bounds = shapely.total_bounds(move_shapes(layer.shapes, layer.crs, WGS84))
    except VrxError:
        return None
    if not np.isfinite(bounds).all():
        return None
    west, south, east, north = bounds.tolist()
    return west, south, east, north


def _meet(one: _Bounds, other: _Bounds) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
