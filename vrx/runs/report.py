"""The papers of a bundle, made again from the content that it holds."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path

from vrx.errors import InputError
from vrx.exports.bundle import MANIFEST, restore_aside, write_bundle
from vrx.exports.manifest import manifest_json, sha256_of
from vrx.inputs.files import read_bytes
from vrx.model.build import WrittenFile
from vrx.reports.content_json import read_content
from vrx.runs.bundle import CONTENT, write_papers
from vrx.runs.manifest import WRITTEN_BY, is_ours, listed, read_manifest, versions

_PAPERS = ("report content", "html", "png", "svg", "pdf")


def report(bundle: Path | str, *, svg: bool = False) -> tuple[WrittenFile, ...]:
    """Make report, maps and cab card of a bundle again, and return them; all or nothing.

    Parameters
    ----------
    bundle : path
        A folder that a build wrote, or the one with the report of a stopped build.
    svg : bool
        The maps as SVG too.

    Raises
    ------
    VrxError
        It is no bundle, holds no content for papers, or one of its files is not the one that was built.
    """
    folder = Path(bundle)
    restore_aside(folder)
    manifest = read_manifest(folder)
    if not is_ours(manifest):
        raise InputError(
            "This is no bundle: it has no manifest that vrx wrote.",
            remedy="Name a folder that vrx build wrote.",
            where=str(folder),
        )
    built = _outputs(manifest)
    if not any(one.format == "report content" for one in built):
        raise InputError(
            "This bundle was built without pictures, and holds nothing to draw them from.",
            remedy="Build its plan again without --no-pictures.",
            where=str(folder),
        )
    _must_be_as_built(folder, built)
    content = read_content(read_bytes(folder / "paper" / CONTENT), source=f"paper/{CONTENT}")
    kept = tuple(one for one in built if one.format not in _PAPERS)

    def fill(new: Path) -> tuple[WrittenFile, ...]:
        for one in kept:
            (new / one.path).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(folder / one.path, new / one.path)
        made = write_papers(new, content, svg=svg)
        files = (*kept, *made)
        used = versions({one.format for one in files})
        again = {**manifest, "written_by": WRITTEN_BY, "outputs": listed(files), "versions": used}
        (new / MANIFEST).write_bytes(manifest_json(again))
        return tuple(made)

    return write_bundle(folder, fill, force=True)


def _outputs(manifest: Mapping[str, object]) -> tuple[WrittenFile, ...]:
    outputs = manifest.get("outputs")
    try:
        found = tuple(
            WrittenFile(path=str(one["path"]), format=str(one["format"]), sha256=str(one["sha256"]))
            for one in (outputs if isinstance(outputs, list) else [])
        )
    except (KeyError, TypeError):
        found = ()
    # A path that leads out of the bundle is none that a build wrote.
    return tuple(one for one in found if not Path(one.path).is_absolute() and ".." not in Path(one.path).parts)


def _must_be_as_built(folder: Path, built: tuple[WrittenFile, ...]) -> None:
    for one in built:
        if one.format in _PAPERS[1:]:
            continue  # made again anyway
        if sha256_of(folder / one.path) != one.sha256:
            raise InputError(
                f"{one.path} is not the file that was built: its checksum differs from the manifest's.",
                remedy="Build the plan again; papers of a changed map would not be true.",
                where=str(folder),
            )
