"""A job: a plan with everything it names, read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from vrx.errors import Problems, VrxError
from vrx.inputs.plan_file import read_plan
from vrx.inputs.read import read_layers, read_table
from vrx.model.finding import Finding
from vrx.model.layer import Layer, Table
from vrx.model.plan import KeepOut, Plan, RateByTable
from vrx.model.plan_file import PlanFile


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What a build starts from; nothing is read after it.

    Attributes
    ----------
    keep_outs : tuple of (KeepOut, Layer)
        In the order of the plan.
    tables : mapping of str to Table
        Tables of rates by the product that they are for.
    """

    file: PlanFile
    boundary: Layer
    zones: Layer
    keep_outs: tuple[tuple[KeepOut, Layer], ...]
    tables: Mapping[str, Table]

    @property
    def plan(self) -> Plan:
        """The plan that was read."""
        return self.file.plan

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What the readers noticed, each thing once: a file may be read for two purposes."""
        layers: list[Layer | Table] = [self.boundary, self.zones, *(layer for _, layer in self.keep_outs)]
        found = [finding for layer in (*layers, *self.tables.values()) for finding in layer.findings]
        return tuple({(one.id, one.message): one for one in found}.values())

    @property
    def inputs(self) -> tuple[Path, ...]:
        """The files that were read, the plan first."""
        plan, folder = self.plan, self.file.folder
        named = [*plan.field.boundary, *plan.zones.from_, *(one.where for one in plan.keep_out)]
        named += [rate.table for rate in plan.rate if isinstance(rate, RateByTable) and isinstance(rate.table, str)]
        return tuple(dict.fromkeys((*self.file.sources, *(folder / name for name in named))))


def read_job(path: Path) -> Job:
    """Read a plan and all files that it names.

    Raises
    ------
    VrxError
        Every file that can't be read is in it, not the first only.
    """
    file = read_plan(path)
    plan, folder = file.plan, file.folder
    read = _Reader()
    boundary = read.layers([folder / name for name in plan.field.boundary], plan.field.crs)
    zones = read.layers([folder / name for name in plan.zones.from_], plan.zones.crs)
    keep_outs = [(one, read.layers([folder / one.where], one.crs)) for one in plan.keep_out]
    tables = {
        rate.product: read.table(folder / rate.table)
        for rate in plan.rate
        if isinstance(rate, RateByTable) and isinstance(rate.table, str)
    }
    if read.errors or boundary is None or zones is None:
        raise Problems(read.errors)
    return Job(
        file=file,
        boundary=boundary,
        zones=zones,
        keep_outs=tuple((one, layer) for one, layer in keep_outs if layer is not None),
        tables={product: table for product, table in tables.items() if table is not None},
    )


class _Reader:
    """Reads on after an error, so that all of them are told at once; a file is read once."""

    def __init__(self) -> None:
        self.errors: list[VrxError] = []
        self._layers: dict[tuple[tuple[Path, ...], str], Layer | None] = {}
        self._tables: dict[Path, Table | None] = {}

    def layers(self, paths: list[Path], crs: str) -> Layer | None:
        key = (tuple(paths), crs)
        if key not in self._layers:
            self._layers[key] = None
            try:
                self._layers[key] = read_layers(paths, crs=crs)
            except VrxError as err:
                self.errors.append(err)
        return self._layers[key]

    def table(self, path: Path) -> Table | None:
        if path not in self._tables:
            self._tables[path] = None
            try:
                self._tables[path] = read_table(path)
            except VrxError as err:
                self.errors.append(err)
        return self._tables[path]
