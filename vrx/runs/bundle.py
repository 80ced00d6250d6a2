"""The bundle: machine files written, read back, and put in place all at once."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path

from vrx import __version__
from vrx.errors import OutputError
from vrx.exports.bundle import MANIFEST, restore_aside, write_bundle
from vrx.exports.formats import write_sheet
from vrx.exports.ledger_csv import ledger_csv
from vrx.exports.manifest import manifest_json, sha256_of
from vrx.exports.sheets import Sheets
from vrx.ledgers.table import HEADER, table_of
from vrx.model.build import WrittenFile
from vrx.model.ledger import Ledger
from vrx.model.zone_map import Ground
from vrx.runs.job import Job
from vrx.runs.verify import verify_file, verify_sheet

_WRITTEN_BY = "vrx "


def write_all(
    target: Path, job: Job, ground: Ground, sheets: Sheets, ledger: Ledger, *, force: bool
) -> tuple[WrittenFile, ...]:
    """Write a bundle, read its maps back, and put it in place; the old one stays until then.

    Raises
    ------
    OutputError
        Something is in the way, a file can't be written, or a map does not come back as it was written.
    """
    restore_aside(target)  # what a killed run moved aside is what this one supersedes
    before = _manifest_of(target)
    _refuse_others(target, before)
    _refuse_inputs(target, job)

    def fill(folder: Path) -> tuple[WrittenFile, ...]:
        files = _write_maps(folder, ground, sheets)
        paper = folder / "paper"
        paper.mkdir()
        (paper / "ledger.csv").write_bytes(ledger_csv(HEADER, table_of(ledger, acre=job.plan.acre)))
        files.append(_written(folder, paper / "ledger.csv", "csv"))
        content = _manifest(job, ground, sheets, files, before)
        (folder / MANIFEST).write_bytes(manifest_json(content))
        return tuple(files)

    return write_bundle(target, fill, force=force)


def _refuse_others(target: Path, before: Mapping[str, object]) -> None:
    """Refuse a folder whose manifest is another program's; one without any is refused when it is written to."""
    if (target / MANIFEST).is_file() and not str(before.get("written_by", "")).startswith(_WRITTEN_BY):
        raise OutputError(
            f"The folder is there and is not a bundle: its {MANIFEST} is not one that vrx wrote, or is damaged.",
            remedy="Choose another folder, or delete this one yourself if nothing in it is needed.",
            where=str(target),
        )


def _refuse_inputs(target: Path, job: Job) -> None:
    """Refuse a folder that holds an input: it would be deleted with the old bundle."""
    real = Path(os.path.realpath(target))
    for path in job.inputs:
        # Where it lies, and where it leads should it be a link.
        places = (Path(os.path.realpath(path.parent), path.name), Path(os.path.realpath(path)))
        if any(place.is_relative_to(real) for place in places):
            raise OutputError(
                f"The folder to write holds {path.name}, which the plan is built from.",
                remedy="Choose another folder: inputs are never replaced.",
                where=str(target),
            )


def _write_maps(folder: Path, ground: Ground, sheets: Sheets) -> list[WrittenFile]:
    machine = folder / "machine"
    machine.mkdir()
    files = []
    for one in sheets.to_write:
        verify_sheet(one.sheet, one.unrounded, ground.frame)
        for form in one.formats:
            paths = write_sheet(one.sheet, machine, form)
            verify_file(paths[0], one.sheet, one.unrounded, ground.frame)
            files.append(_written(folder, paths[0], form))
            files += [_written(folder, path, f"{form} part") for path in paths[1:]]
    return files


def _written(folder: Path, path: Path, form: str) -> WrittenFile:
    return WrittenFile(path=path.relative_to(folder).as_posix(), format=form, sha256=sha256_of(path))


def _manifest(
    job: Job, ground: Ground, sheets: Sheets, files: list[WrittenFile], before: Mapping[str, object]
) -> Mapping[str, object]:
    plan = job.plan
    outputs = [{"path": one.path, "format": one.format, "sha256": one.sha256} for one in files]
    maps = [
        {
            "name": written.sheet.name,
            "formats": written.formats,
            "crs": written.sheet.crs,
            "polygons": len(written.sheet.shapes),
            "columns": [
                {"name": one.name, "product": one.product, "unit": one.unit, "decimals": one.decimals}
                for one in written.sheet.columns
            ],
        }
        for written in sheets.to_write
    ]
    settings = [
        {
            "name": product.name,
            "allowed": product.allowed_text,
            "unit": product.unit.name,
            "default": product.rate_text(product.number_where("default")),
            "outside": product.rate_text(product.number_of(product.in_unit(product.outside)) or 0)
            if product.outside
            else f"0 {product.unit.name}",
            "no_position": product.rate_text(product.number_where("no_position")),
            "hand_rates": [str(rate) for rate in product.hand_rates],
        }
        for product in plan.rated
    ]
    return {
        "written_by": f"{_WRITTEN_BY}{__version__}",
        "versions": _versions(plan.receiver.formats),
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
        "crs": {"grid": ground.grid_crs, "geometry": ground.frame.crs},
        "inputs": [{"path": _relative(path, job), "sha256": _sha256(path)} for path in job.inputs],
        "outputs": outputs,
        "maps": maps,
        "products": settings,
        "supersedes": _superseded(before, outputs),
    }


def _relative(path: Path, job: Job) -> str:
    """Return a path as the plan names it; only the name of a file that it names by its whole path."""
    try:
        return path.relative_to(job.file.folder).as_posix()
    except ValueError:
        return path.name


def _sha256(path: Path) -> str | dict[str, str]:
    if path.is_dir():
        return {one.name: sha256_of(one) for one in sorted(path.iterdir()) if one.is_file()}
    if path.suffix.lower() != ".shp":
        return sha256_of(path)
    beside = (one for one in path.parent.iterdir() if one.stem.casefold() == path.stem.casefold() and one.is_file())
    return {one.name: sha256_of(one) for one in sorted(beside)}


def _versions(formats: Sequence[str]) -> dict[str, str]:
    """Return the versions of the libraries that had a hand in the files: those alone, whatever else is loaded."""
    import numpy  # noqa: ICN001, PLC0415 - the version only
    import pyproj  # noqa: PLC0415
    import shapely  # noqa: PLC0415

    versions = {
        "numpy": numpy.__version__,
        "shapely": shapely.__version__,
        "GEOS": shapely.geos_version_string,
        "pyproj": pyproj.__version__,
        "PROJ": pyproj.proj_version_str,
    }
    if "geopackage" in formats:
        import fiona  # noqa: PLC0415 - slow to load, and only there where it wrote something

        versions |= {"fiona": fiona.__version__, "GDAL": fiona.__gdal_version__}
    return versions


def _manifest_of(target: Path) -> Mapping[str, object]:
    try:
        found = json.loads((target / MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _superseded(before: Mapping[str, object], outputs: list[dict[str, str]]) -> object:
    """Return what the new bundle replaces; building the same thing again replaces nothing new."""
    if not before:
        return None
    if before.get("outputs") == outputs:
        return before.get("supersedes")
    plan = before.get("plan")
    maps = before.get("maps")
    return {
        "revision": plan.get("revision") if isinstance(plan, dict) else None,
        "maps": [one.get("name") for one in maps if isinstance(one, dict)] if isinstance(maps, list) else [],
    }
