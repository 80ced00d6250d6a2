"""The backdrop that a plan names; a map does without one that can't be read."""

from __future__ import annotations

from vrx.errors import VrxError
from vrx.inputs.backdrop import read_backdrop
from vrx.model.content import Backdrop
from vrx.model.finding import Finding
from vrx.model.zone_map import Ground
from vrx.runs.job import Job

# Around the field, as a share of its longer side.
_MARGIN = 0.06


def backdrop_of(job: Job, ground: Ground) -> tuple[Backdrop | None, tuple[Finding, ...]]:
    """Return the plan's backdrop, and what to say where it can't be used; None where it names none."""
    name = job.plan.field.backdrop
    if not name:
        return None, ()
    west, south, east, north = (float(one) for one in ground.boundary.bounds)
    margin = _MARGIN * max(east - west, north - south)
    around = (west - margin, south - margin, east + margin, north + margin)
    try:
        return read_backdrop(job.file.folder / name, frame=ground.frame, around=around), ()
    except VrxError as err:
        one = err.each[0]
        return None, (
            Finding(
                id="backdrop-unreadable",
                severity="caution",
                message=f"The backdrop {name} is left out of the maps: {one.problem}",
                remedy=one.remedy,
            ),
        )
