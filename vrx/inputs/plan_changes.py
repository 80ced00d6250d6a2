"""A plan's values changed for one build, before the model reads them: single values, and one product for another.

Products are swapped first, then values are set: they may be those of the new product. The plan's text stays as it is.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final, TypeVar

from vrx.errors import PlanError, Problems
from vrx.inputs.plan_faults import Fault, shown
from vrx.inputs.plan_path import Assignment, assignment, path_of
from vrx.inputs.plan_text import TomlFile
from vrx.inputs.shared_files import Merged, dialect_of_text, merge_shared
from vrx.model.change import SET, SWAP, Change
from vrx.model.keys import KeyPath
from vrx.model.plan_schema import inside, toml_text, whole_schema
from vrx.units import Dialect
from vrx.words import nearest, some

T = TypeVar("T")

_LONGEST_VALUE: Final = 100

# What says which shared tables there are, and how they are read, is set before they are merged in.
_BEFORE_MERGING: Final = ("rate", "products", "machines", "units", "acre")
# Tables with the products that they are about; an acceptance is of one product, and does not pass to another.
_ABOUT_PRODUCTS: Final = ("keep_out", "overlay")


@dataclass(slots=True)
class Changed:
    """A plan's values, changed and with the shared ones in.

    Attributes
    ----------
    merged : Merged
    dialect : Dialect
    changes : tuple of Change
        In the order in which they were made.
    paths : dict
        For each value that was set: its place, and the option with its key.
    swapped_out : tuple of mapping
        The products that others stand in for, as the plan and its shared file have them.
    """

    merged: Merged
    dialect: Dialect
    changes: tuple[Change, ...] = ()
    paths: dict[KeyPath, str] = field(default_factory=dict)
    swapped_out: tuple[Mapping[str, Any], ...] = ()

    def with_hint(self, fault: Fault) -> Fault:
        """Return a fault that names what was set beside it: the value at fault may be the other one."""
        if any(fault.path[: len(path)] == path for path in self.paths):
            return fault
        table = _table_of(fault.path)
        beside = [text for path, text in self.paths.items() if _table_of(path) == table]
        return fault._replace(remedy=f"{fault.remedy} Look at {some(beside)} too.".lstrip()) if beside else fault


def changed_and_merged(plan: TomlFile, *, sets: Sequence[str] = (), swaps: Sequence[str] = ()) -> Changed:
    """Change a plan's values, and merge in the shared ones that it then asks for.

    Parameters
    ----------
    sets : sequence of str
        Each ``KEY=VALUE``, in force as if it stood in the plan.
    swaps : sequence of str
        Each ``OLD=NEW``: names of products.

    Raises
    ------
    Problems
        A change can't be made; each error's ``where`` is the option with what was said.
    """
    values = _copied(plan.values)
    swapped = _each(SWAP, swaps, lambda said: _swap(said, _rated(values)))
    _refuse_twice(swapped, _rated(values))
    moved = _swap_in_plan(values, {one.old: one.new for one in swapped})
    wanted = _each(SET, sets, assignment)
    early = [one for one in wanted if _is_early(one)]
    done = _each(SET, early, lambda one: _assign(values, one), lambda one: one.said)
    dialect = dialect_of_text(values, Dialect("metric"))
    merged = merge_shared(replace(plan, values=values), dialect)
    _refuse_unknown(merged, swapped)
    _swap_in_machine(merged.values, {one.old: one.new for one in swapped})
    late = [one for one in wanted if not _is_early(one)]
    done += _each(SET, late, lambda one: _assign(merged.values, one), lambda one: one.said)
    _refuse_set_twice(done)
    for new, old in moved.items():
        merged.homes.setdefault(new, (merged.plan, old))
    for one in done:
        merged.homes[one.path] = (replace(plan, name=f"{SET} {one.key}", text="", values=one.value), ())
    merged.faults = [_at_home(merged, file, fault) for file, fault in merged.faults]
    return Changed(
        merged=merged,
        dialect=dialect,
        changes=(*swapped, *(one.change for one in sorted(done, key=lambda one: sets.index(one.change.said)))),
        paths={one.path: f"{SET} {one.key}" for one in done},
        swapped_out=tuple(_as_in_plan(plan, {one.old for one in swapped})) if swapped else (),
    )


def _table_of(path: KeyPath) -> KeyPath:
    """Return the table that a key stands in: the one of several, where there are."""
    return path[:2] if isinstance(inside(path, (1,)), int) else path[:1]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Done:
    path: KeyPath
    key: str
    value: Any
    change: Change


def _each(option: str, given: Iterable[Any], make: Callable[[Any], T], said: Callable[[Any], str] = str) -> list[T]:
    """Make something of each, and raise all errors together, each with the option that it is about."""
    made, errors = [], []
    for one in given:
        try:
            made.append(make(one))
        except PlanError as err:
            errors.append(PlanError(err.problem, remedy=err.remedy, where=f"{option} {said(one)}"))
    if errors:
        raise errors[0] if len(errors) == 1 else Problems(errors)
    return made


def _is_early(one: Assignment) -> bool:
    return len(one.steps) == 1 or one.steps[0] in _BEFORE_MERGING or one.steps == ("machine", "name")


def _assign(values: dict[str, Any], one: Assignment) -> _Done:
    path = path_of(values, one.steps, whole_schema())
    was = inside(values, path)
    holder: Any = values
    for step in path[:-1]:
        holder = holder.setdefault(step, {}) if isinstance(holder, dict) else holder[step]
    holder[path[-1]] = one.value
    before = "not in the plan" if was is None else f"in the plan {_written(was)}"
    text = f"{one.key} = {_written(one.value)} ({before})"
    return _Done(path=path, key=one.key, value=one.value, change=Change(option=SET, said=one.said, text=text))


def _refuse_set_twice(done: Sequence[_Done]) -> None:
    seen: dict[KeyPath, _Done] = {}
    for one in done:
        other = seen.setdefault(one.path, one)
        if other is not one:
            raise PlanError(
                f"{one.key} is set twice, also as {other.change.said!r}.",
                remedy="Set it once.",
                where=f"{SET} {one.change.said}",
            )


def _written(value: Any) -> str:
    """Write a value as the plan does, cut to a line's length."""
    if not isinstance(value, dict | list):
        return shown(value)
    text = toml_text(value)
    return text if len(text) <= _LONGEST_VALUE else f"{text[:_LONGEST_VALUE]}..."


def _swap(said: str, rated: Sequence[str]) -> Change:
    splits = [(said[:at].strip(), said[at + 1 :].strip()) for at, letter in enumerate(said) if letter == "="]
    # A name may hold an equals sign of its own.
    old, new = next((one for one in splits if one[0] in rated), splits[0] if splits else ("", ""))
    if not old or not new:
        raise PlanError(f"{said!r} is not OLD=NEW.", remedy='Name two products, such as "UAN 32=UAN 28".')
    if old not in rated:
        raise PlanError(
            f"The plan has no [[rate]] for {old!r}.", remedy=f"{nearest(old, rated)}Swap {some(rated) or 'nothing'}."
        )
    if old == new:
        raise PlanError(f"{old!r} is swapped for itself.", remedy="Name another product behind the equals sign.")
    return Change(option=SWAP, said=said, text=f"{new} instead of {old}", old=old, new=new)


def _refuse_twice(swapped: Sequence[Change], rated: Sequence[str]) -> None:
    gone = [one.old for one in swapped]
    kept = {name for name in rated if name not in gone}
    for nth, one in enumerate(swapped):
        where = f"{SWAP} {one.said}"
        if one.old in gone[:nth]:
            raise PlanError(f"{one.old!r} is swapped twice.", remedy="Swap it once.", where=where)
        if one.new in kept or one.new in [other.new for other in swapped[:nth]]:
            raise PlanError(
                f"{one.new!r} has a [[rate]] of its own: two rates of one product can't go over the same ground.",
                remedy="Swap for a product that the plan does not use, or add the rates up in the plan.",
                where=where,
            )


def _refuse_unknown(merged: Merged, swapped: Sequence[Change]) -> None:
    if merged.shared_products is None:
        return  # their file can't be read, and that is said
    own = [_word(table, "name") for table in _tables(merged.values, "product")]
    known = tuple(dict.fromkeys((*own, *merged.shared_products)))
    for one in swapped:
        if one.new not in known:
            others = [name for name in known if name not in _rated(merged.values) and name != one.old]
            raise PlanError(
                f"There is no product {one.new!r}, neither in the plan nor in its shared file.",
                remedy=f"{nearest(one.new, known)}"
                + (f"Use {some(others)}." if others else "Add it to the file that the plan names as products."),
                where=f"{SWAP} {one.said}",
            )


def _as_in_plan(plan: TomlFile, names: Collection[str]) -> Iterable[Mapping[str, Any]]:
    merged = merge_shared(plan, dialect_of_text(plan.values, Dialect("metric")))
    return (table for table in _tables(merged.values, "product") if _word(table, "name") in names)


def _swap_in_plan(values: dict[str, Any], new_of: Mapping[str, str]) -> dict[KeyPath, KeyPath]:
    """Put products in each other's place, and return for tables that thereby moved where they stand in the plan."""
    if not new_of:
        return {}
    for rate in _tables(values, "rate"):
        _put(rate, new_of)
    for one in (one for key in _ABOUT_PRODUCTS for one in _tables(values, key)):
        _put(one, new_of)
    kept = set(new_of.values())
    moved = _drop(values, "product", lambda one: _word(one, "name") not in new_of or _word(one, "name") in kept)
    return moved | _drop(values, "accept", lambda one: _word(one, "product") not in new_of)


def _swap_in_machine(values: dict[str, Any], new_of: Mapping[str, str]) -> None:
    machine = values.get("machine")
    if isinstance(machine, dict):
        tank = machine.get("tank")
        boxes = [tank] if isinstance(tank, dict) else _tables(machine, "tank")
        for one in (*_tables(machine, "drive"), *boxes):
            _put(one, new_of)


def _put(table: dict[str, Any], new_of: Mapping[str, str]) -> None:
    product = table.get("product")
    if isinstance(product, str):
        table["product"] = new_of.get(product.strip(), product)
    for key in ("products", "one_of"):
        products = table.get(key)
        if isinstance(products, list):
            names = [new_of.get(one.strip(), one) if isinstance(one, str) else one for one in products]
            table[key] = [one for at, one in enumerate(names) if one not in names[:at]]


def _drop(values: dict[str, Any], key: str, keep: Callable[[dict[str, Any]], bool]) -> dict[KeyPath, KeyPath]:
    tables = _tables(values, key)
    if not tables:
        return {}
    left = [at for at, one in enumerate(tables) if keep(one)]
    values[key] = [tables[at] for at in left]
    return {(key, new): (key, old) for new, old in enumerate(left) if new != old}


def _at_home(merged: Merged, file: TomlFile, fault: Fault) -> tuple[TomlFile, Fault]:
    if file is not merged.plan:
        return file, fault
    home, there = merged.home_of(fault.path)
    return home, fault._replace(path=there)


def _rated(values: Mapping[str, Any]) -> list[str]:
    return [name for rate in _tables(values, "rate") if (name := _word(rate, "product"))]


def _tables(values: Mapping[str, Any], key: str) -> list[dict[str, Any]]:
    found = values.get(key)
    return found if isinstance(found, list) and all(isinstance(one, dict) for one in found) else []


def _word(table: Mapping[str, Any], key: str) -> str:
    value = table.get(key)
    return value.strip() if isinstance(value, str) else ""


def _copied(value: Any) -> Any:
    """Copy tables and lists, and leave what stands in them: a text may know the dialect of its file."""
    if isinstance(value, dict):
        return {key: _copied(one) for key, one in value.items()}
    return [_copied(one) for one in value] if isinstance(value, list) else value
