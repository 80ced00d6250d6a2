"""The build: from a plan to files that a machine loads. Each step's result can be kept and used again."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from vrx.exports.sheets import Sheets, make_sheets
from vrx.ledgers.build import ledger_of
from vrx.model.build import Build, WrittenFile
from vrx.model.finding import Finding
from vrx.model.ledger import Ledger
from vrx.model.plan import Plan
from vrx.model.prescription import Prescription
from vrx.runs.belonging import belonging_findings, supply_findings
from vrx.runs.bundle import write_all
from vrx.runs.cut import CutGround, cut_ground
from vrx.runs.ground import lay_ground, stated_area_findings
from vrx.runs.job import Job, read_job
from vrx.runs.prescribe import prescribe
from vrx.runs.thin_out import within_vertex_limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A job with its ground cut: all that does not depend on a rate."""

    job: Job
    cut: CutGround
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """Rates worked out on prepared ground, and accounted for."""

    prescription: Prescription
    ledger: Ledger
    findings: tuple[Finding, ...]


def build(plan: Path | str, *, out: Path | str | None = None, force: bool = False) -> Build:
    """Build a prescription from a plan, and write its bundle unless a finding stops it.

    Parameters
    ----------
    plan : path
        A plan file.
    out : path, optional
        The folder to write; ``NAME-bundle`` beside ``NAME.toml`` unless said.
    force : bool
        Replace a bundle that is there.

    Raises
    ------
    VrxError
        Something can't be read, worked out or written; nothing is changed then.
    """
    path = Path(plan)
    prepared = prepare(read_job(path))
    worked = work_out(prepared, prepared.job.plan)
    sheets = make_sheets(worked.prescription, prepared.job.plan)
    return deliver(prepared, worked, sheets, Path(out) if out is not None else bundle_of(path), force=force)


def prepare(job: Job) -> Prepared:
    """Lay out the ground and cut it along the zones."""
    laid = lay_ground(job)
    cut = cut_ground(job, laid.ground)
    return Prepared(
        job=job, cut=cut, findings=(*job.findings, *belonging_findings(job.plan), *laid.findings, *cut.findings)
    )


def work_out(prepared: Prepared, plan: Plan) -> Worked:
    """Work out rates and ledger; ``plan`` may differ from the prepared one in products, rates and receiver."""
    raw = prescribe(prepared.cut, plan, prepared.job.tables)
    prescription = within_vertex_limit(raw, plan)
    ledger = ledger_of(prescription, field=plan.field.name, system=plan.units)
    area = stated_area_findings(plan, prescription.zone_map.ground, ledger.geodesic_area_m2)
    return Worked(
        prescription=prescription,
        ledger=ledger,
        findings=(*prescription.findings, *area, *supply_findings(plan, ledger)),
    )


def deliver(prepared: Prepared, worked: Worked, sheets: Sheets, target: Path, *, force: bool) -> Build:
    """Write the bundle, unless a finding stops it."""
    found = sorted((*prepared.findings, *worked.findings, *sheets.findings), key=_worst_first)
    files: tuple[WrittenFile, ...] = ()
    stopped = any(finding.severity == "stop" for finding in found)
    if not stopped:
        ground = worked.prescription.zone_map.ground
        files = write_all(target, prepared.job, ground, sheets, worked.ledger, force=force)
    return Build(
        plan=prepared.job.plan,
        prescription=worked.prescription,
        ledger=worked.ledger,
        bundle=None if stopped else target,
        files=files,
        findings=tuple(found),
    )


def bundle_of(plan: Path) -> Path:
    """Return the folder that a plan's bundle goes to unless another is said."""
    return plan.parent / f"{plan.stem}-bundle"


def _worst_first(finding: Finding) -> int:
    return ("stop", "caution", "note").index(finding.severity)
