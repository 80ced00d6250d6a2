"""The build: from a plan to files that a machine loads. Each step's result can be kept and used again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from vrx.errors import OutputError, PlanError
from vrx.exports.sheets import Sheets, make_sheets
from vrx.ledgers.build import ledger_of
from vrx.model.build import Build, WrittenFile
from vrx.model.content import Content
from vrx.model.finding import Finding
from vrx.model.ledger import Ledger
from vrx.model.plan import Plan
from vrx.model.prescription import Prescription
from vrx.runs.accept import accepted
from vrx.runs.amounts import amounts_must_convert
from vrx.runs.backdrop import backdrop_of
from vrx.runs.belonging import belonging_findings, supply_findings
from vrx.runs.bundle import Made, bundle_of, unwritten, write_all, write_stopped
from vrx.runs.cut import CutGround, bare_ground_findings, cut_ground
from vrx.runs.grids import receiver_findings
from vrx.runs.ground import lay_ground, stated_area_findings
from vrx.runs.job import Job, read_job
from vrx.runs.manifest import is_ours, read_manifest
from vrx.runs.overlays import laid_findings
from vrx.runs.places import places_of
from vrx.runs.prescribe import prescribe
from vrx.runs.swaps import refuse_other_forms, swap_findings
from vrx.runs.thin_out import within_vertex_limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A job with its ground cut: all that does not depend on products, rates and receiver."""

    job: Job
    cut: CutGround
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """Rates worked out on prepared ground as a plan asks for them, and accounted for."""

    plan: Plan
    prescription: Prescription
    ledger: Ledger
    findings: tuple[Finding, ...]


def build(
    plan: Path | str,
    *,
    out: Path | str | None = None,
    force: bool = False,
    pictures: bool = True,
    svg: bool = False,
    sets: Sequence[str] = (),
    swaps: Sequence[str] = (),
) -> Build:
    """Build a prescription from a plan, and write its bundle unless a finding stops it.

    Parameters
    ----------
    plan : path
        A plan file.
    out : path, optional
        The folder to write; ``NAME-bundle`` beside ``NAME.toml`` unless said.
    force : bool
        Replace a bundle that is there.
    pictures, svg : bool
        Report, maps and cab card too; the maps as SVG as well.
    sets, swaps : sequence of str
        What is changed for this build alone: ``KEY=VALUE`` as if it stood in the plan, ``OLD=NEW`` of products.

    Raises
    ------
    VrxError
        Something can't be read, worked out or written; nothing is changed then.
    """
    path = Path(plan)
    job = read_job(path, sets=sets, swaps=swaps)
    with places_of(job.file):
        prepared = prepare(job)
        worked = work_out(prepared, job.plan)
        sheets = make_sheets(worked.prescription, worked.plan)
    target = Path(out) if out is not None else bundle_of(path)
    return deliver(prepared, worked, sheets, target, force=force, pictures=pictures, svg=svg)


def prepare(job: Job) -> Prepared:
    """Lay out the ground and cut it along the zones."""
    laid = lay_ground(job)
    cut = cut_ground(job, laid.ground)
    return Prepared(job=job, cut=cut, findings=(*job.findings, *laid.findings, *cut.findings))


def work_out(prepared: Prepared, plan: Plan) -> Worked:
    """Work out rates and ledger.

    Parameters
    ----------
    prepared : Prepared
    plan : Plan
        The prepared one, or one that differs in anything but the ground: see :func:`ground_keys`.

    Raises
    ------
    VrxError
        The plan asks for other ground, or its rates can't be worked out.
    """
    _same_ground(plan, prepared.job.plan)
    amounts_must_convert(plan)
    receiver = receiver_findings(plan, prepared.cut.zone_map.ground.frame)
    file = prepared.job.file
    refuse_other_forms(file, plan, prepared.cut, prepared.job.tables)
    raw = prescribe(prepared.cut, plan, prepared.job.tables)
    prescription = within_vertex_limit(raw, plan)
    ledger = ledger_of(prescription, field=plan.field.name, system=plan.units, machine=plan.machine)
    area = stated_area_findings(plan, prescription.zone_map.ground, ledger.geodesic_area_m2)
    return Worked(
        plan=plan,
        prescription=prescription,
        ledger=ledger,
        findings=(
            *belonging_findings(plan),
            *receiver,
            *bare_ground_findings(prepared.cut, plan),
            *laid_findings(plan.overlay, prepared.cut.zone_map, [one.name for one in plan.rated]),
            *prescription.findings,
            *area,
            *supply_findings(plan, ledger),
            *swap_findings(file, plan, prepared.cut, prepared.job.tables, ledger),
        ),
    )


def ground_keys(plan: Plan) -> dict[str, object]:
    """Return what the ground was laid out and cut by, by the plan's keys; all else may change without a new cut."""
    return {
        "units": plan.units,
        "acre": plan.acre,
        "grid_crs": plan.grid_crs,
        "repairs": plan.repairs,
        "fill_gaps": plan.fill_gaps,
        "field.boundary": plan.field.boundary,
        "field.crs": plan.field.crs,
        "field.layer": plan.field.layer,
        "keep_out": plan.keep_out,
        "field.part": plan.field.part,
        "overlay": [(one.where, one.crs, one.layer, one.products) for one in plan.overlay],
        "machine.width": plan.machine.width if any(one.laps for one in plan.overlay) else None,
        **{
            f"zones.{name}.{key}" if name else f"zones.{key}": value
            for name, one in plan.zone_layers.items()
            for key, value in (("from", one.from_), ("crs", one.crs), ("layer", one.layer), ("name", one.name))
        },
    }


def _same_ground(plan: Plan, prepared: Plan) -> None:
    before, now = ground_keys(prepared), ground_keys(plan)
    changed = [key for key in {**before, **now} if before.get(key) != now.get(key)]
    if changed:
        raise PlanError(
            f"The ground was cut for a plan with another {', '.join(changed)}.", remedy="Prepare the plan anew."
        )


def deliver(
    prepared: Prepared,
    worked: Worked,
    sheets: Sheets,
    target: Path,
    *,
    force: bool,
    pictures: bool = True,
    svg: bool = False,
) -> Build:
    """Write the bundle of the plan that was worked out; where a finding stops it, only a report beside it."""
    job = prepared.job.with_plan(worked.plan)
    backdrop, unseen = backdrop_of(job, worked.prescription.zone_map.ground) if pictures else (None, ())
    every = (*prepared.findings, *worked.findings, *sheets.findings, *unseen)
    found = sorted(accepted(every, worked.plan), key=_worst_first)
    made = Made(
        job=job,
        prescription=worked.prescription,
        ledger=worked.ledger,
        sheets=sheets,
        findings=tuple(found),
        backdrop=backdrop,
    )
    if any(finding.severity == "stop" for finding in found):
        return _stopped(made, target, pictures=pictures)
    bundle = write_all(target, made, force=force, pictures=pictures, svg=svg)
    return _build(made, bundle.content, bundle=target, files=bundle.files)


def _stopped(made: Made, target: Path, *, pictures: bool) -> Build:
    if is_ours(read_manifest(target)):
        made = _with(made, _earlier_bundle(target))
    if not pictures:
        return _build(made, unwritten(made))
    try:
        report, content = write_stopped(target, made)
    except OutputError as err:
        # What stopped the build matters more than that its report has no place.
        unsaid = _with(made, _report_unwritten(err))
        return _build(unsaid, unwritten(unsaid))
    return _build(made, content, stopped_report=report)


def _with(made: Made, finding: Finding) -> Made:
    return replace(made, findings=tuple(sorted((*made.findings, finding), key=_worst_first)))


def _earlier_bundle(target: Path) -> Finding:
    return Finding(
        id="earlier-bundle",
        severity="caution",
        message=f"The bundle of an earlier build, {target.name}, is still there: its maps are not of this plan.",
        remedy="Take none of its files to the machine unless that build is meant.",
    )


def _report_unwritten(err: OutputError) -> Finding:
    return Finding(
        id="report-not-written",
        severity="caution",
        message=f"The report of this stopped build could not be written: {err.problem} ({err.where})",
        remedy=err.remedy,
    )


def _build(
    made: Made,
    content: Content,
    *,
    bundle: Path | None = None,
    files: tuple[WrittenFile, ...] = (),
    stopped_report: Path | None = None,
) -> Build:
    return Build(
        plan=made.job.plan,
        prescription=made.prescription,
        ledger=made.ledger,
        bundle=bundle,
        files=files,
        findings=made.findings,
        content=content,
        stopped_report=stopped_report,
        changes=made.job.file.changes,
    )


def _worst_first(finding: Finding) -> int:
    return ("stop", "caution", "note").index(finding.severity)
