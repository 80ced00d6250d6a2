"""Shared products and machines merged into a plan, remembering from which file each key came."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final, get_args

from vrx.errors import PlanError
from vrx.inputs.plan_faults import Fault, shown
from vrx.inputs.plan_text import TomlFile, read_toml
from vrx.model.forms import Form
from vrx.model.keys import KeyPath, OwnText
from vrx.units import Acre, Dialect, System
from vrx.words import nearest

_KEYS_OF_SHARED: Final = ("units", "acre", "product", "machine")


@dataclass(slots=True)
class Merged:
    """A plan's values with the shared ones in, while it is being read.

    Attributes
    ----------
    plan : TomlFile
    values : dict
        What the model is to check.
    homes : dict
        For a path in ``values`` that stands in a shared file: that file, and the path there.
    faults : list of (TomlFile, Fault)
        What is wrong with the shared files themselves.
    sources : list of TomlFile
    shared_products : tuple of str, or None
        Names of all shared products; None where their file can't be used.
    """

    plan: TomlFile
    values: dict[str, Any]
    homes: dict[KeyPath, tuple[TomlFile, KeyPath]] = field(default_factory=dict)
    faults: list[tuple[TomlFile, Fault]] = field(default_factory=list)
    sources: list[TomlFile] = field(default_factory=list)
    shared_products: tuple[str, ...] | None = ()

    def home_of(self, path: KeyPath) -> tuple[TomlFile, KeyPath]:
        """Return the file in which a path of the merged values stands, and the path there."""
        for size in range(len(path), 0, -1):
            if path[:size] in self.homes:
                file, there = self.homes[path[:size]]
                return file, (*there, *path[size:])
        return self.plan, path


def dialect_of_text(values: Mapping[str, Any], otherwise: Dialect) -> Dialect:
    """Return what a file says about its words; a wrong word is complained about elsewhere, and once is enough."""
    units, acre = values.get("units", otherwise.system), values.get("acre", otherwise.acre)
    return Dialect(
        units if units in get_args(System) else "us",
        acre if acre in get_args(Acre) else "international",
    )


def merge_shared(plan: TomlFile, dialect: Dialect) -> Merged:
    """Read the shared files that a plan names and merge them in; what is wrong with them is collected."""
    merged = Merged(plan, dict(plan.values), sources=[plan])
    products = _shared(merged, "products")
    machines = products if _same_file(plan.values) else _shared(merged, "machines")
    if products:
        _merge_products(merged, products, dialect)
    if machines:
        _merge_machine(merged, machines, dialect)
    if products:
        _tell_forms(merged, products)
    return merged


def _same_file(values: Mapping[str, Any]) -> bool:
    return "products" in values and values.get("products") == values.get("machines")


def _shared(merged: Merged, key: str) -> TomlFile | None:
    """Read a shared file, or None where the plan names none or it can't be used."""
    named = merged.values.get(key, "")
    if not isinstance(named, str) or not named:
        return None
    path = merged.plan.path.parent / named
    try:
        file = read_toml(path, name=named, where=key)
    except PlanError as err:
        if key == "products":
            merged.shared_products = None
        if err.where == key:  # there is no such file: the plan's key is to blame
            merged.faults.append((merged.plan, Fault((key,), err.problem, err.remedy)))
        else:
            merged.faults.append(
                (TomlFile(name=err.where, path=path, text="", values={}), Fault((), err.problem, err.remedy))
            )
        return None
    merged.sources.append(file)
    merged.faults += [(file, fault) for fault in faults_of_shared(file.values)]
    return file


def faults_of_shared(values: Mapping[str, Any]) -> list[Fault]:
    """Return what is wrong with the keys and names of a shared file."""
    faults = []
    for key, value in values.items():
        if key not in _KEYS_OF_SHARED:
            faults.append(
                Fault(
                    (key,),
                    f"{key!r} is not a key of a shared file.",
                    f"{nearest(key, _KEYS_OF_SHARED)}Keys here are {', '.join(_KEYS_OF_SHARED)}.",
                )
            )
        elif key in ("units", "acre"):
            choices = get_args(System if key == "units" else Acre)
            if value not in choices:
                listed = " or ".join(f'"{one}"' for one in choices)
                faults.append(Fault((key,), f"{key} = {shown(value)} is not one of its choices.", f"Use {listed}."))
        elif not _is_tables(value):
            faults.append(Fault((key,), f"{key} is not a list of tables.", f"Write [[{key}]], with two brackets."))
        else:
            faults += _faults_of_names(key, value)
    return faults


def _faults_of_names(key: str, tables: list[dict[str, Any]]) -> list[Fault]:
    faults, seen = [], set()
    for at, table in enumerate(tables):
        name = _name(table)
        if name is None:
            faults.append(Fault((key, at, "name"), "name is missing: plans choose by it.", "Give name, as text."))
        elif name in seen:
            faults.append(Fault((key, at, "name"), f"Two of [[{key}]] are named {name!r}.", "Give each its own name."))
        seen.add(name)
    return faults


def _merge_products(merged: Merged, file: TomlFile, dialect: Dialect) -> None:
    shared = {name: at for at, table in enumerate(_tables(file.values, "product")) if (name := _name(table))}
    merged.shared_products = tuple(shared)
    own = merged.values.get("product", [])
    if not _is_tables(own):
        return
    tables = [dict(table) for table in own]
    for at, table in enumerate(tables):
        name = _name(table)
        if name in shared:
            _fill(merged, table, at=("product", at), file=file, there=("product", shared.pop(name)), dialect=dialect)
    rated = [_name({"name": rate.get("product")}) for rate in _tables(merged.values, "rate")]
    for name, there in shared.items():
        if name in rated:
            at = len(tables)
            tables.append({})
            _fill(merged, tables[at], at=("product", at), file=file, there=("product", there), dialect=dialect)
            merged.homes["product", at] = (file, ("product", there))
    merged.values["product"] = tables


def _merge_machine(merged: Merged, file: TomlFile, dialect: Dialect) -> None:
    shared = {name: at for at, table in enumerate(_tables(file.values, "machine")) if (name := _name(table))}
    listed = ", ".join(f'"{name}"' for name in shared)
    own = merged.values.get("machine", {})
    if not isinstance(own, dict):
        return
    name = _name(own)
    if name in shared:
        table = dict(own)
        _fill(merged, table, at=("machine",), file=file, there=("machine", shared[name]), dialect=dialect)
        merged.values["machine"] = table
    elif name is None:
        problem = f"{file.name} holds machines, and no [machine] says which."
        merged.faults.append(
            (
                merged.plan,
                Fault(("machines",), problem, f"Write [machine] with name = one of {listed}, or leave machines out."),
            )
        )
    else:
        problem = f"{file.name} has no machine {name!r}."
        remedy = f"{nearest(name, tuple(shared))}Use {listed or 'another file'}, or leave machines out."
        merged.faults.append((merged.plan, Fault(("machine", "name"), problem, remedy)))


def _tell_forms(merged: Merged, file: TomlFile) -> None:
    """Say what a drive meters that carries a shared product without a rate in this plan, which else nobody knows."""
    here = {_name(table) for table in _tables(merged.values, "product")}
    shared = {name: at for at, table in enumerate(_tables(file.values, "product")) if (name := _name(table))}
    machine = merged.values.get("machine")
    drives = _tables(machine, "drive") if isinstance(machine, dict) else []
    told = [dict(drive) for drive in drives]
    for nth, drive in enumerate(told):
        one_of = drive.get("one_of")
        names = [_name({"name": one}) for one in (one_of if isinstance(one_of, list) else [drive.get("product")])]
        at = next((shared[one] for one in names if one in shared), None)
        if "form" in drive or at is None or not here.isdisjoint(names):
            continue
        form = file.values["product"][at].get("form")
        if form in get_args(Form):
            drive["form"] = form
            merged.homes["machine", "drive", nth, "form"] = (file, ("product", at, "form"))
    if isinstance(machine, dict) and told != drives:
        merged.values["machine"] = machine | {"drive": told}


def _fill(
    merged: Merged, table: dict[str, Any], *, at: KeyPath, file: TomlFile, there: KeyPath, dialect: Dialect
) -> None:
    """Put the keys of a shared table into one of the plan, which keeps its own."""
    source = file.values[str(there[0])][there[1]]
    own_dialect = dialect_of_text(file.values, dialect)
    for key, value in source.items():
        if key not in table:
            table[key] = value if own_dialect == dialect else _in_dialect(value, own_dialect)
            merged.homes[*at, key] = (file, (*there, key))


def _in_dialect(value: Any, dialect: Dialect) -> Any:
    if isinstance(value, str):
        return OwnText(value, dialect)
    if isinstance(value, list):
        return [_in_dialect(one, dialect) for one in value]
    if isinstance(value, dict):
        return {key: _in_dialect(one, dialect) for key, one in value.items()}
    return value


def _is_tables(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(one, dict) for one in value)


def _tables(values: Mapping[str, Any], key: str) -> list[dict[str, Any]]:
    value = values.get(key, [])
    return value if _is_tables(value) else []


def _name(table: Mapping[str, Any]) -> str | None:
    name = table.get("name")
    return name.strip() or None if isinstance(name, str) else None
