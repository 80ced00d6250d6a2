"""Reading a plan: its text, the shared files that it names, the model's checks, and the files that must be there."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from vrx.errors import PlanError, Problems
from vrx.inputs.plan_changes import changed_and_merged
from vrx.inputs.plan_faults import Fault, faults_of
from vrx.inputs.plan_text import TomlFile, as_written, exists, key_text, missing_file, read_toml
from vrx.inputs.shared_files import Merged
from vrx.model.change import SET, SWAP
from vrx.model.keys import KeyPath
from vrx.model.overlay import is_drawn_by_rule
from vrx.model.plan import Plan
from vrx.model.plan_file import PlanFile
from vrx.model.plan_names import NamesInPlan, names_refused
from vrx.model.plan_schema import inside, whole_schema
from vrx.model.product import Product

_LONGEST_PROBLEM: Final = 300


def read_plan(
    path: Path,
    *,
    sets: Sequence[str] = (),
    swaps: Sequence[str] = (),
    stand_ins: Sequence[Mapping[str, Any]] = (),
) -> PlanFile:
    """Read a plan and the shared files that it names.

    Parameters
    ----------
    path : Path
        The plan's TOML file, at most 1 MiB. Paths in it are relative to its folder.
    sets, swaps : sequence of str
        Changes that are in force as if they stood in the plan: ``KEY=VALUE``, and ``OLD=NEW`` of products.
    stand_ins : sequence of mapping
        Products that are read as if they stood in the plan too.

    Returns
    -------
    PlanFile

    Raises
    ------
    PlanError
        The file itself can't be read or is not TOML.
    Problems
        All that is wrong with what the files say, each a :class:`vrx.errors.PlanError` whose ``where`` is file,
        key and line, as ``plan.toml: product[0].min, line 31``, or the option that set it.
    """
    file = read_toml(path)
    changed = changed_and_merged(file, sets=sets, swaps=swaps)
    merged = changed.merged
    if stand_ins:
        merged.values["product"] = [*merged.values.get("product", ()), *map(dict, stand_ins)]
    context = {"dialect": changed.dialect, "shared_products": merged.shared_products}
    plan, faults = None, list(_missing_files(merged.values, file.path.parent))
    try:
        plan = Plan.model_validate(merged.values, context=context)
    except ValidationError as err:
        faults += faults_of(err, merged.values, whole_schema())
        faults += _unknown_names(merged, faults) if merged.shared_products is not None else ()
    if plan is None or faults or merged.faults:
        raise Problems(_placed(merged, [changed.with_hint(fault) for fault in faults]))
    sources = tuple(one.path for one in merged.sources)
    return PlanFile(
        plan=plan,
        path=path,
        folder=path.parent,
        sources=sources,
        text=file.text,
        changes=changed.changes,
        swapped_out=tuple(_readable(changed.swapped_out, context)),
    )


def _readable(tables: Iterable[Mapping[str, Any]], context: Mapping[str, Any]) -> Iterator[Product]:
    for table in tables:
        with suppress(ValidationError):  # it is no part of this build: what is wrong with it does not matter
            yield Product.model_validate(table, context=dict(context))


def place_of(file: PlanFile, path: KeyPath) -> str:
    """Return where a key of a plan stands, ``plan.toml: rate[0].column, line 31``, as its reader tells places.

    The shared files are looked up again. Of a plan that was changed after it was read only the key is known.
    """
    if not file.text:
        return key_text(path)
    own = TomlFile(name=file.path.name, path=file.path, text=file.text, values=tomllib.loads(file.text))
    said = {option: [one.said for one in file.changes if one.option == option] for option in (SET, SWAP)}
    home, there = changed_and_merged(own, sets=said[SET], swaps=said[SWAP]).merged.home_of(path)
    return home.places([there])[there][0]


def _placed(merged: Merged, faults: list[Fault]) -> list[PlanError]:
    """Return the errors with their places, in the order of the files and their lines."""
    at_home: list[tuple[TomlFile, Fault]] = list(merged.faults)
    for fault in faults:
        if merged.shared_products is None and fault.kind == "missing" and fault.path[0] == "product":
            continue  # it may well stand in the file that can't be read
        file, there = merged.home_of(fault.path)
        at_home.append((file, fault._replace(path=there)))
    errors: list[PlanError] = []
    for file in {id(file): file for file in (*merged.sources, *(file for file, _ in at_home))}.values():
        here = list(dict.fromkeys(fault for home, fault in at_home if home is file))
        places = file.places(fault.path for fault in here)
        here.sort(key=lambda fault: places[fault.path][1] or float("inf"))
        errors += [PlanError(_cut(fault.problem), remedy=fault.remedy, where=places[fault.path][0]) for fault in here]
    return errors


def _cut(problem: str) -> str:
    """Keep a problem to a line's length: a value that is quoted in it may be a whole file."""
    return problem if len(problem) <= _LONGEST_PROBLEM else f"{problem[:_LONGEST_PROBLEM]}..."


def _unknown_names(merged: Merged, faults: list[Fault]) -> Iterator[Fault]:
    """Check the names of a plan that has other faults, where the model did not get to do it."""
    seen = {(fault.path, fault.problem) for fault in faults}
    values = merged.values
    names = NamesInPlan(
        products=_texts(values, "product", "name"),
        rates=_texts(values, "rate", "product"),
        keep_outs=_texts(values, "keep_out", "products"),
        overlays=_texts(values, "overlay", "products"),
        drives={
            path: name
            for key in ("product", "one_of")
            for path, name in _texts(values.get("machine"), "drive", key, start=("machine",)).items()
        },
        boxes=_texts({"tank": _several(inside(values, ("machine", "tank")))}, "tank", "product", start=("machine",)),
        shared=merged.shared_products or (),
    )
    for path, problem, remedy in names_refused(names):
        at = as_written(path, values)
        if (at, problem) not in seen:
            yield Fault(at, problem, remedy)


def _several(value: object) -> object:
    return [value] if isinstance(value, Mapping) else value


def _texts(holder: object, table: str, key: str, start: KeyPath = ()) -> dict[KeyPath, str]:
    """Return what a key says in each of several tables, where it is text or a list of it."""
    found: dict[KeyPath, str] = {}
    tables = holder.get(table) if isinstance(holder, Mapping) else None
    for at, one in enumerate(tables if isinstance(tables, list) else ()):
        value = one.get(key) if isinstance(one, Mapping) else None
        path = (*start, table, at, key)
        if isinstance(value, str):
            found[path] = value.strip()
        elif isinstance(value, list):
            found |= {(*path, nth): text.strip() for nth, text in enumerate(value) if isinstance(text, str)}
    return found


def _missing_files(values: Mapping[str, Any], folder: Path) -> Iterator[Fault]:
    for at, name in _files_named(values).items():
        path = folder / name
        if name and not exists(path):
            yield Fault(at, *missing_file(path, name))


def _files_named(values: Mapping[str, Any]) -> dict[KeyPath, str]:
    named = _texts(values, "keep_out", "where")
    named |= {at: name for at, name in _texts(values, "rate", "table").items() if len(at) == 3}
    named |= {at: name for at, name in _texts(values, "overlay", "where").items() if not is_drawn_by_rule(name)}
    zones = values.get("zones")
    layers = zones if isinstance(zones, Mapping) else {}
    named_layers = (("zones", name, "from") for name, one in layers.items() if isinstance(one, Mapping))
    for at in (("field", "boundary"), ("field", "part"), ("zones", "from"), *named_layers):
        value = inside(values, at)
        if isinstance(value, str):
            named[at] = value.strip()
        elif isinstance(value, list):
            named |= {(*at, nth): name.strip() for nth, name in enumerate(value) if isinstance(name, str)}
    return named
