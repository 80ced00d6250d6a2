"""A job: a plan with everything it names, read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from vrx.errors import PlanError, Problems, VrxError
from vrx.inputs.plan_file import read_plan
from vrx.inputs.read import read_layers, read_table
from vrx.model.finding import Finding
from vrx.model.layer import Layer, Table
from vrx.model.overlay import Overlay
from vrx.model.plan import FieldOfPlan, KeepOut, Plan, RateByTable, ZonesOfPlan
from vrx.model.plan_file import PlanFile


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What a build starts from; nothing is read after it.

    Attributes
    ----------
    zones : mapping of str to Layer
        Zone layers by name; a single one has an empty name.
    keep_outs : tuple of (KeepOut, Layer)
        In the order of the plan.
    overlays : tuple of (Overlay, Layer or None)
        In the order of the plan; without a layer where the ground is not drawn in a file.
    part : Layer or None
        The ground to treat, where it is a part of the field.
    tables : mapping of str to Table
        Tables of rates by their file, as the plan names it.
    """

    file: PlanFile
    boundary: Layer
    zones: Mapping[str, Layer]
    keep_outs: tuple[tuple[KeepOut, Layer], ...]
    overlays: tuple[tuple[Overlay, Layer | None], ...]
    part: Layer | None
    tables: Mapping[str, Table]

    @property
    def plan(self) -> Plan:
        """The plan that was read."""
        return self.file.plan

    def with_plan(self, plan: Plan) -> Job:
        """Return the job with its plan changed, in what does not need another file read."""
        if plan == self.plan:
            return self
        return replace(self, file=replace(self.file, plan=plan, text=""))

    @property
    def keep_out_layers(self) -> tuple[Layer, ...]:
        """The layers of the keep-outs, each once."""
        return _each_once(layer for _, layer in self.keep_outs)

    @property
    def layers(self) -> tuple[Layer, ...]:
        """All layers, each once, the boundary first."""
        overlays = (layer for _, layer in self.overlays if layer is not None)
        part = () if self.part is None else (self.part,)
        return _each_once((self.boundary, *part, *self.zones.values(), *self.keep_out_layers, *overlays))

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What the readers noticed, each thing once: a file may be read for two purposes."""
        read: tuple[Layer | Table, ...] = (*self.layers, *self.tables.values())
        found = [finding for one in read for finding in one.findings]
        return tuple({(one.id, one.message): one for one in found}.values())

    @property
    def inputs(self) -> tuple[Path, ...]:
        """The files that were read, the plan first."""
        plan, folder = self.plan, self.file.folder
        named = [*plan.field.boundary, *(name for zones in plan.zone_layers.values() for name in zones.from_)]
        named += [one.where for one in plan.keep_out] + [one.where for one in plan.overlay if one.is_file]
        named += [plan.field.part] if plan.field.part else []
        named += [plan.field.backdrop] if plan.field.backdrop else []
        named += [rate.table for rate in plan.rate if isinstance(rate, RateByTable) and isinstance(rate.table, str)]
        return tuple(dict.fromkeys((*self.file.sources, *(folder / name for name in named))))


def read_job(
    path: Path,
    *,
    sets: Sequence[str] = (),
    swaps: Sequence[str] = (),
    ground_alone: bool = False,
    stand_ins: Sequence[Mapping[str, Any]] = (),
) -> Job:
    """Read a plan, with what is changed in it for one build, and all files that it names.

    Parameters
    ----------
    sets, swaps, stand_ins
        See :func:`vrx.inputs.plan_file.read_plan`.
    ground_alone : bool
        Only boundary, part, keep-outs and overlays: no zones and tables of rates.

    Raises
    ------
    VrxError
        Every file that can't be read is in it, not the first only.
    """
    _must_be_there(path)
    file = read_plan(path, sets=sets, swaps=swaps, stand_ins=stand_ins)
    plan, folder = file.plan, file.folder
    read = _Reader()
    boundary = read.layers([folder / name for name in plan.field.boundary], plan.field)
    part = read.layers([folder / plan.field.part]) if plan.field.part else None
    wanted = {} if ground_alone else plan.zone_layers
    zones = {name: read.layers([folder / file for file in one.from_], one) for name, one in wanted.items()}
    keep_outs = [(one, read.layers([folder / one.where], one)) for one in plan.keep_out]
    tables = {
        rate.table: read.table(folder / rate.table)
        for rate in plan.rate
        if isinstance(rate, RateByTable) and isinstance(rate.table, str) and not ground_alone
    }
    overlays = [(one, read.layers([folder / one.where], one) if one.is_file else None) for one in plan.overlay]
    if read.errors or boundary is None:
        raise Problems(read.errors)
    return Job(
        file=file,
        boundary=boundary,
        zones={name: layer for name, layer in zones.items() if layer is not None},
        keep_outs=tuple((one, layer) for one, layer in keep_outs if layer is not None),
        overlays=tuple(overlays),
        part=part,
        tables={name: table for name, table in tables.items() if table is not None},
    )


def _must_be_there(path: Path) -> None:
    """Refuse a plan that is not there: its path is meant from the working folder, unlike the paths in it."""
    try:
        path.stat()
    except (FileNotFoundError, NotADirectoryError):
        raise PlanError(
            "There is no such plan.", remedy="Check its path, or start a plan with vrx new DIR.", where=str(path)
        ) from None
    except (OSError, ValueError):
        return  # the reader says what is wrong with it


def _each_once(layers: Iterable[Layer]) -> tuple[Layer, ...]:
    return tuple({id(layer): layer for layer in layers}.values())


class _Reader:
    """Reads on after an error, so that all of them are told at once; a file is read once."""

    def __init__(self) -> None:
        self.errors: list[VrxError] = []
        self._layers: dict[tuple[tuple[Path, ...], str, str], Layer | None] = {}
        self._tables: dict[Path, Table | None] = {}

    def layers(
        self, paths: list[Path], said: FieldOfPlan | KeepOut | Overlay | ZonesOfPlan | None = None
    ) -> Layer | None:
        crs, layer = ("", "") if said is None else (said.crs, said.layer)
        key = (tuple(paths), crs, layer)
        if key not in self._layers:
            self._layers[key] = None
            try:
                self._layers[key] = read_layers(paths, crs=crs, layer=layer)
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
