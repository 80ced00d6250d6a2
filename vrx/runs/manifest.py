"""The manifest of a bundle: what went in, what came out, and what it takes the place of."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

from vrx import __version__
from vrx.exports.bundle import MANIFEST
from vrx.exports.manifest import sha256_of
from vrx.model.content import Checksum
from vrx.model.zone_map import Ground
from vrx.reports.settings import settings

if TYPE_CHECKING:
    from vrx.exports.sheets import Sheets
    from vrx.model.build import WrittenFile
    from vrx.model.machine import Machine
    from vrx.runs.job import Job

WRITTEN_BY = f"vrx {__version__}"
_OURS = "vrx "


def is_ours(manifest: Mapping[str, object]) -> bool:
    """Tell whether a manifest is one that vrx wrote, in any version."""
    return str(manifest.get("written_by", "")).startswith(_OURS)


def read_manifest(bundle: Path) -> Mapping[str, object]:
    """Return the manifest of a bundle; empty where there is none that can be read."""
    try:
        found = json.loads((bundle / MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def manifest_of(
    job: Job,
    ground: Ground,
    sheets: Sheets,
    files: Sequence[WrittenFile],
    *,
    inputs: Sequence[Checksum],
    before: Mapping[str, object],
) -> dict[str, object]:
    """Return the manifest of a build.

    Parameters
    ----------
    before : mapping
        The manifest of the bundle that is replaced; empty where there is none.
    """
    plan = job.plan
    maps = [
        {
            "name": sheet.name,
            "written": [
                {"formats": one.formats, "crs": one.sheet.crs, "polygons": len(one.sheet.shapes)}
                for one in sheets.to_write
                if one.sheet.name == sheet.name
            ],
            "columns": [
                {"name": one.name, "product": one.product, "unit": one.unit, "decimals": one.decimals}
                for one in sheet.columns
            ],
        }
        for sheet in sheets.sheets
    ]
    return {
        "written_by": WRITTEN_BY,
        "versions": versions({one.format for one in files}),
        "plan": {
            "file": job.file.path.name,
            # None for a plan that was changed after it was read: no file says it.
            "text": job.file.text or None,
            "client": plan.field.client,
            "farm": plan.field.farm,
            "field": plan.field.name,
            "season": plan.field.season,
            "crop": plan.field.crop,
            "date": plan.date.isoformat() if plan.date else None,
            "revision": plan.revision,
            "prepared_by": plan.prepared_by,
            "approved_by": plan.approved_by,
            "notes": plan.notes,
        },
        "changes": [{"option": one.option, "said": one.said, "text": one.text} for one in job.file.changes],
        "crs": {"grid": ground.grid_crs, "geometry": ground.frame.crs},
        "inputs": [{"path": one.path, "sha256": one.sha256} for one in inputs],
        "outputs": listed(files),
        "maps": maps,
        "machine": _machine(plan.machine),
        "products": [
            {
                "name": product.name,
                "allowed": product.allowed_text,
                "hand_rates": [str(rate) for rate in product.hand_rates],
                "settings": {fact.label: fact.value for fact in settings(product)},
            }
            for product in plan.rated
        ],
        "supersedes": superseded(before, plan.revision, [str(one["name"]) for one in maps]),
    }


def _machine(machine: Machine) -> dict[str, object]:
    """Return how a plan's drives are laid out and grouped, for whoever compares another map or machine with it."""
    return {
        "name": machine.name,
        "width_m": machine.width,
        "drives": [
            {"name": one.name, "products": list(one.products), "group": one.group, "span_m": list(one.span)}
            for one in machine.drive
        ],
    }


def listed(files: Sequence[WrittenFile]) -> list[dict[str, str]]:
    """Return files as a manifest lists them."""
    return [{"path": one.path, "format": one.format, "sha256": one.sha256} for one in files]


def input_checksums(job: Job) -> tuple[Checksum, ...]:
    """Return every file that a job was read from, named as the plan names it, each part of a shapefile too."""
    return tuple(
        Checksum(path=_relative(file, job), sha256=sha256_of(file)) for path in job.inputs for file in _files_of(path)
    )


def superseded(before: Mapping[str, object], revision: int, maps: Sequence[str]) -> object:
    """Return what a build takes the place of; building the same maps of the same revision again replaces nothing new.

    Parameters
    ----------
    maps : sequence of str
        Names of the new maps; a name holds a code of the map's contents.
    """
    if not before:
        return None
    plan, old = before.get("plan"), before.get("maps")
    old_revision = plan.get("revision") if isinstance(plan, dict) else None
    old_maps = [str(one.get("name")) for one in old if isinstance(one, dict)] if isinstance(old, list) else []
    if (old_revision, old_maps) == (revision, list(maps)):
        return before.get("supersedes")
    return {"revision": old_revision, "maps": old_maps}


def replaces_text(supersedes: object) -> str:
    """Return what a build takes the place of as a sentence; empty where nothing."""
    if not isinstance(supersedes, dict):
        return ""
    maps = ", ".join(map(str, supersedes.get("maps") or ())) or "no maps"
    revision = supersedes.get("revision")
    return f"Replaces {f'revision {revision}' if revision is not None else 'an earlier build'}: {maps}."


def versions(formats: set[str]) -> dict[str, str]:
    """Return the versions of the libraries that had a hand in the files: those alone, whatever else is loaded."""
    import numpy  # noqa: ICN001, PLC0415 - the version only
    import pyproj  # noqa: PLC0415
    import shapely  # noqa: PLC0415

    found = {
        "numpy": numpy.__version__,
        "shapely": shapely.__version__,
        "GEOS": shapely.geos_version_string,
        "pyproj": pyproj.__version__,
        "PROJ": pyproj.proj_version_str,
    }
    if "geopackage" in formats:
        import fiona  # noqa: PLC0415 - slow to load, and only there where it wrote something

        found |= {"fiona": fiona.__version__, "GDAL": fiona.__gdal_version__}
    if "png" in formats:
        found |= {"matplotlib": version("matplotlib")}
    if "pdf" in formats:
        found |= {"fpdf2": version("fpdf2")}
    return found


def _relative(path: Path, job: Job) -> str:
    """Return a path as the plan names it; only the name of a file that it names by its whole path."""
    try:
        return path.relative_to(job.file.folder).as_posix()
    except ValueError:
        return path.name


def _files_of(path: Path) -> list[Path]:
    """Return a file, each of a folder, or what belongs to a shapefile; nothing for a backdrop that is not there."""
    if not path.exists():
        return []
    if path.is_dir():
        return sorted(one for one in path.iterdir() if one.is_file())
    if path.suffix.lower() != ".shp":
        return [path]
    beside = (one for one in path.parent.iterdir() if one.stem.casefold() == path.stem.casefold() and one.is_file())
    return sorted(beside)
