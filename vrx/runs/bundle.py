"""The bundle: machine files written, read back, and put in place with their papers all at once."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from vrx.errors import OutputError
from vrx.exports.bundle import MANIFEST, remove_bundle, restore_aside, write_bundle
from vrx.exports.formats import write_sheet
from vrx.exports.ledger_csv import ledger_csv
from vrx.exports.manifest import manifest_json, sha256_of
from vrx.exports.sheets import Sheets
from vrx.ledgers.table import HEADER, table_of
from vrx.model.build import WrittenFile
from vrx.model.content import Backdrop, Content
from vrx.model.finding import Finding
from vrx.model.ledger import Ledger
from vrx.model.prescription import Prescription
from vrx.model.zone_map import Ground
from vrx.reports.content import Written, gather
from vrx.reports.content_json import content_json
from vrx.runs.job import Job
from vrx.runs.manifest import (
    WRITTEN_BY,
    input_checksums,
    is_ours,
    manifest_of,
    read_manifest,
    replaces_text,
    superseded,
)
from vrx.runs.verify import verify_file, verify_sheet

CONTENT = "report.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A build that is worked out and laid out, before anything of it is written."""

    job: Job
    prescription: Prescription
    ledger: Ledger
    sheets: Sheets
    findings: tuple[Finding, ...]
    backdrop: Backdrop | None = None

    @property
    def ground(self) -> Ground:
        """The field on the ground."""
        return self.prescription.zone_map.ground

    def content(self, written: Written, *, pictures: bool) -> Content:
        """Return what people read about it."""
        return gather(
            self.job.plan,
            self.prescription,
            self.ledger,
            self.findings,
            written,
            pictures=pictures,
            backdrop=self.backdrop,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle:
    """What was written, and what it says to people."""

    files: tuple[WrittenFile, ...]
    content: Content


def write_all(target: Path, made: Made, *, force: bool, pictures: bool, svg: bool) -> Bundle:
    """Write a bundle, read its maps back, and put it in place; the old one stays until then.

    Parameters
    ----------
    pictures, svg : bool
        Report, maps and cab card too; the maps as SVG as well.

    Raises
    ------
    OutputError
        Something is in the way, a file can't be written, or a map does not come back as it was written.
    """
    restore_aside(target)  # what a killed run moved aside is what this one supersedes
    there = read_manifest(target)
    _refuse_others(target, there)
    _refuse_inputs(target, made.job)
    before = there or _changed_from(made)

    def fill(folder: Path) -> Bundle:
        files = _write_maps(folder, made)
        files.append(_write_ledger(folder, made))
        written = _written_of(made, files, before)
        content = made.content(written, pictures=pictures)
        if pictures:
            files += write_papers(folder, content, svg=svg)
        manifest = manifest_of(made.job, made.ground, made.sheets, files, inputs=written.inputs, before=before)
        (folder / MANIFEST).write_bytes(manifest_json(manifest))
        return Bundle(files=tuple(files), content=content)

    bundle = write_bundle(target, fill, force=force)
    stale = stopped_of(target)
    if is_ours(read_manifest(stale)):
        remove_bundle(stale)
    return bundle


def write_stopped(target: Path, made: Made) -> tuple[Path, Content]:
    """Write the report of a build that a finding stopped, beside where its bundle would be, and return its path.

    Raises
    ------
    OutputError
        Something is in the way, or it can't be written.
    """
    folder_of_report = stopped_of(target)
    before = read_manifest(folder_of_report)
    _refuse_others(folder_of_report, before)
    _refuse_inputs(folder_of_report, made.job)
    written = _written_of(made, (), {})
    content = made.content(written, pictures=True)

    def fill(folder: Path) -> None:
        files = write_papers(folder, content, svg=False)
        manifest = manifest_of(made.job, made.ground, made.sheets, files, inputs=written.inputs, before={})
        (folder / MANIFEST).write_bytes(manifest_json(manifest | {"stopped": True}))

    write_bundle(folder_of_report, fill, force=True)  # its own older report is all that it may replace
    return folder_of_report / "paper" / "report.html", content


def unwritten(made: Made) -> Content:
    """Return what people read about a build of which nothing is written."""
    return made.content(_written_of(made, (), {}), pictures=False)


def bundle_of(plan: Path) -> Path:
    """Return the folder that a plan's bundle goes to unless another is said."""
    return plan.parent / f"{plan.stem}-bundle"


def _changed_from(made: Made) -> Mapping[str, object]:
    """Return the manifest of the plan's own bundle, which one with last-minute changes takes the place of."""
    file = made.job.file
    found = read_manifest(bundle_of(file.path)) if file.changes else {}
    return found if is_ours(found) else {}


def stopped_of(target: Path) -> Path:
    """Return the folder that gets the report of a stopped build."""
    return target.with_name(f"{target.name}-stopped")


def write_papers(folder: Path, content: Content, *, svg: bool) -> list[WrittenFile]:
    """Write what people read, and the content that it is made from, into ``paper`` of a folder."""
    from vrx.reports.papers import papers  # noqa: PLC0415 - what draws is slow to load

    paper = folder / "paper"
    paper.mkdir(exist_ok=True)
    (paper / CONTENT).write_bytes(content_json(content))
    files = [_written(folder, paper / CONTENT, "report content")]
    for one in papers(content, svg=svg):
        (paper / one.name).write_bytes(one.data)
        files.append(_written(folder, paper / one.name, one.format))
    return files


def _written_of(made: Made, files: Sequence[WrittenFile], before: Mapping[str, object]) -> Written:
    plan = made.job.plan
    return Written(
        by=WRITTEN_BY,
        plan_name=made.job.file.path.name,
        sheets=made.sheets.sheets,
        files=tuple(files),
        inputs=input_checksums(made.job),
        changes=made.job.file.changes,
        replaces=replaces_text(superseded(before, plan.revision, [one.name for one in made.sheets.sheets])),
    )


def _refuse_others(target: Path, before: Mapping[str, object]) -> None:
    """Refuse a folder whose manifest is another program's; one without any is refused when it is written to."""
    if (target / MANIFEST).is_file() and not is_ours(before):
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


def _write_maps(folder: Path, made: Made) -> list[WrittenFile]:
    machine = folder / "machine"
    machine.mkdir()
    files = []
    frame = made.ground.frame
    for one in made.sheets.to_write:
        verify_sheet(one.sheet, one.unrounded, frame)
        for form in one.formats:
            paths = write_sheet(one.sheet, machine, form)
            verify_file(paths[0], one.sheet, one.unrounded, frame, made.job.plan)
            files.append(_written(folder, paths[0], form))
            files += [_written(folder, path, f"{form} part") for path in paths[1:]]
    return files


def _write_ledger(folder: Path, made: Made) -> WrittenFile:
    paper = folder / "paper"
    paper.mkdir()
    (paper / "ledger.csv").write_bytes(ledger_csv(HEADER, table_of(made.ledger, acre=made.job.plan.acre)))
    return _written(folder, paper / "ledger.csv", "csv")


def _written(folder: Path, path: Path, form: str) -> WrittenFile:
    return WrittenFile(path=path.relative_to(folder).as_posix(), format=form, sha256=sha256_of(path))
