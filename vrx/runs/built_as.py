"""Which bundle a map comes from: found again by checksum or by its code, since a manifest is rarely beside it."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import islice
from pathlib import Path

from vrx.errors import InputError
from vrx.exports.bundle import MANIFEST
from vrx.exports.manifest import sha256_of
from vrx.exports.names import CODE_LENGTH, CODE_LETTERS
from vrx.inputs.archives import Archive
from vrx.model.checked_map import BuiltAs, Grouping, LaterBuild, MapSource
from vrx.runs.manifest import is_ours, read_manifest

_CODE = re.compile(rf"_([{CODE_LETTERS}]{{{CODE_LENGTH}}})$")
# So many folders beside a plan are looked into.
_MOST_FOLDERS = 500


def find_bundle(source: MapSource, path: Path, *, plan: Path | None) -> BuiltAs | None:
    """Find the bundle that a map comes from: the one it lies in, else those in the plan's folder.

    Parameters
    ----------
    source : MapSource
    path : Path
        Where the map lies.
    plan : Path, optional
        The plan's file; bundles lie beside it.
    """
    own, manifests = path.absolute().parent.parent, _manifests(path, plan)
    if path.suffix.lower() == ".zip":
        source = replace(source, sha256=_members(path) or source.sha256)
    for by in (_same_bytes, _same_code):
        for folder, manifest in manifests:
            map_name = by(source, manifest)
            if map_name:
                found = _built_as(source, folder, manifest, map_name, plan=plan)
                if by is _same_code and not found.changed:
                    # The name alone is that of a map: none of its files is one that the bundle lists.
                    return replace(found, by="code", changed=tuple(source.sha256))
                return found
    if manifests and manifests[0][0] == own and path.parent.name == "machine":
        return _built_as(source, own, manifests[0][1], "", plan=plan)
    return None


def find_later(source: MapSource, built_as: BuiltAs | None, path: Path, *, plan: Path | None) -> LaterBuild | None:
    """Find a bundle whose build replaced a map; parameters as of :func:`find_bundle`, which found ``built_as``.

    A map is known by its name, which holds a code of its contents, or by the name that its own bundle gives it.
    """
    names = {source.stem.casefold()} | ({built_as.map_name.casefold()} if built_as is not None else set())
    for folder, manifest in _manifests(path, plan):
        old = [_text(one) for one in _list(_table(manifest.get("supersedes")).get("maps"))]
        new = [_text(one.get("name")) for one in _tables(manifest.get("maps"))]
        # A build that comes to the same map again replaces nothing.
        replaced = {one.casefold() for one in old} - {one.casefold() for one in new}
        mine = [one for one in old if one.casefold() in names & replaced]
        if mine:
            named_alike = tuple(one for one in new if any(_CODE.sub("", one) == _CODE.sub("", two) for two in mine))
            return LaterBuild(bundle=folder.name, maps=named_alike)
    return None


def _manifests(path: Path, plan: Path | None) -> list[tuple[Path, Mapping[str, object]]]:
    """Return the manifests that may tell of a map, with their folders: that of the bundle it lies in comes first."""
    folders = [path.absolute().parent.parent, *([] if plan is None else _beside(plan))]
    return [(folder, found) for folder in dict.fromkeys(folders) if is_ours(found := read_manifest(folder))]


def _beside(plan: Path) -> Iterator[Path]:
    try:
        found = sorted(plan.absolute().parent.iterdir())
    except OSError:
        return
    yield from islice((one for one in found if (one / MANIFEST).is_file()), _MOST_FOLDERS)


def _members(path: Path) -> dict[str, str]:
    """Return the checksums of what lies in a zip file of one map: packed, it is still the one that was built."""
    with suppress(InputError):  # the reader says what is wrong with it
        archive = Archive(path, source=path.name)
        if len({Path(name).stem for name in archive.names}) == 1:
            return {Path(name).name: hashlib.sha256(archive.read(name)).hexdigest() for name in archive.names}
    return {}


def _outputs(manifest: Mapping[str, object]) -> dict[str, str]:
    """Return the checksums of machine files by their names."""
    outputs = manifest.get("outputs")
    found = {}
    for one in outputs if isinstance(outputs, list) else ():
        path = str(one.get("path", "")) if isinstance(one, dict) else ""
        if path.startswith("machine/"):
            found[path.removeprefix("machine/")] = str(one.get("sha256"))
    return found


def _same_bytes(source: MapSource, manifest: Mapping[str, object]) -> str:
    by_sha = {sha256: name for name, sha256 in _outputs(manifest).items()}
    # The shapes of two products may be the same: what tells maps apart is the part with the rates, which comes last.
    parts = sorted(source.sha256, key=lambda name: name.lower().endswith(".dbf"), reverse=True)
    found = [by_sha[source.sha256[name]] for name in parts if source.sha256[name] in by_sha]
    kinds = {Path(name).suffix.lower() for name in parts} & {".dbf", ".geojson", ".gpkg"}
    told = [name for name in found if Path(name).suffix.lower() in kinds]
    return Path(told[0]).stem if told else ""


def _same_code(source: MapSource, manifest: Mapping[str, object]) -> str:
    code = _CODE.search(source.stem.casefold())
    stems = {Path(name).stem for name in _outputs(manifest)}
    if code is None:
        return ""
    return next((stem for stem in sorted(stems) if stem.casefold().endswith(code.group())), "")


def _built_as(
    source: MapSource, folder: Path, manifest: Mapping[str, object], map_name: str, *, plan: Path | None
) -> BuiltAs:
    outputs = {name.casefold(): sha for name, sha in _outputs(manifest).items() if Path(name).stem == map_name}
    changed = tuple(
        name
        for name, sha in source.sha256.items()
        if map_name and outputs.get(f"{map_name}{Path(name).suffix}".casefold(), sha) != sha
    )
    said = _table(manifest.get("plan"))
    mine = [one for one in _tables(manifest.get("maps")) if one.get("name") == map_name]
    columns = [column for one in mine for column in _tables(one.get("columns"))]
    return BuiltAs(
        bundle=folder.name,
        by="code" if changed else "checksum",
        map_name=map_name,
        field_name=_text(said.get("field")),
        season=_text(said.get("season")),
        crop=_text(said.get("crop")),
        client=_text(said.get("client")),
        farm=_text(said.get("farm")),
        revision=_text(said.get("revision")),
        products={_text(one.get("name")): _text(one.get("product")) for one in columns},
        units={_text(one.get("name")): _text(one.get("unit")) for one in columns},
        changed=changed,
        unlisted=not map_name,
        inputs_changed=tuple(_inputs_changed(manifest, plan)),
        settings={
            _text(one.get("name")): {key: _text(value) for key, value in _table(one.get("settings")).items()}
            for one in _tables(manifest.get("products"))
        },
        grouping=_grouping(manifest),
        supersedes=tuple(_text(one) for one in _list(_table(manifest.get("supersedes")).get("maps"))),
    )


def _inputs_changed(manifest: Mapping[str, object], plan: Path | None) -> Iterator[str]:
    """Yield the inputs of a build that lie where they lay, with another content."""
    if plan is None or _text(_table(manifest.get("plan")).get("file")) != plan.name:
        return
    for one in _tables(manifest.get("inputs")):
        path = plan.parent / _text(one.get("path"))
        if path.is_file() and sha256_of(path) != one.get("sha256"):
            yield _text(one.get("path"))


def _grouping(manifest: Mapping[str, object]) -> Grouping | None:
    drives = _tables(_table(manifest.get("machine")).get("drives"))
    if not drives:
        return None
    groups: dict[str, set[str]] = {}
    for one in drives:
        name, group = _text(one.get("name")), _text(one.get("group"))
        groups.setdefault(f"group {group}" if group else f"drive {name}", set()).add(name)
    return frozenset(frozenset(names) for names in groups.values())


def _text(value: object) -> str:
    return "" if value is None else str(value)


def _table(value: object) -> Mapping[str, object]:
    return value if isinstance(value, dict) else {}


def _list(value: object) -> Sequence[object]:
    return value if isinstance(value, list) else ()


def _tables(value: object) -> list[Mapping[str, object]]:
    return [one for one in _list(value) if isinstance(one, dict)]
