"""Where in a plan an error comes from that is found after the plan was read."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from vrx.errors import Problems, VrxError
from vrx.inputs.plan_file import place_of
from vrx.model.plan_file import PlanFile


@contextmanager
def places_of(file: PlanFile) -> Iterator[None]:
    """Give errors that name a key of a plan its file and line."""
    try:
        yield
    except VrxError as err:
        if not any(one.key for one in err.each):
            raise
        placed = [_placed(one, file) for one in err.each]
        raise placed[0] if len(placed) == 1 else Problems(placed) from err


def _placed(err: VrxError, file: PlanFile) -> VrxError:
    if not err.key:
        return err
    return type(err)(err.problem, remedy=err.remedy, where=place_of(file, err.key), key=err.key)
