"""What is wrong with a plan, in words: from the model's complaints to problem and remedy.

The model says *that* a value does not fit; here it is said what was found and what would be accepted.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final, NamedTuple

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from vrx.inputs.plan_text import as_written
from vrx.model.keys import KeyPath
from vrx.model.plan_schema import Node, accepts, choices_of, inside, is_table, is_tables, keys_of, node_at
from vrx.words import nearest

_LONGEST_VALUE: Final = 60


class Fault(NamedTuple):
    """One thing that is wrong: where in the plan, what, and what would be accepted."""

    path: KeyPath
    problem: str
    remedy: str
    kind: str = "refused"


def faults_of(err: ValidationError, plan: Mapping[str, Any], schema: Node) -> list[Fault]:
    """Return what the model complains about, each thing once.

    Parameters
    ----------
    err : ValidationError
    plan : mapping
        What was checked.
    schema : mapping
        From :func:`vrx.model.plan_schema.whole_schema`.
    """
    faults = [fault for details in err.errors(include_url=False) for fault in _faults(details, plan, schema)]
    # A list whose members are wrong is also said to be too short.
    return [
        fault
        for fault in faults
        if fault.kind != "too_short"
        or not any(other.path != fault.path and other.path[: len(fault.path)] == fault.path for other in faults)
    ]


def shown(value: object) -> str:
    """Return a value as the plan writes it, cut to a line's length."""
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list | tuple):
        return "an empty list" if not value else "a list"
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, str) and len(value) > _LONGEST_VALUE:
        return json.dumps(value[:_LONGEST_VALUE], ensure_ascii=False) + "..."
    return json.dumps(value, ensure_ascii=False, default=str)[: _LONGEST_VALUE + 2]


def _faults(details: ErrorDetails, plan: Mapping[str, Any], schema: Node) -> Iterator[Fault]:
    path = _path_of(details["loc"])
    if details["type"] == "refused":
        for at, problem, remedy in details["ctx"]["each"]:
            yield Fault(as_written((*path, *at), plan), problem, remedy)
        return
    if path[-1:] == (0,) and isinstance(inside(plan, path[:-1]), str):
        path = path[:-1]  # one file name is checked as a list of one
    path = as_written(path, plan)
    node = node_at(schema, path, plan) or {}
    details["input"] = inside(plan, path, otherwise=details["input"])
    kind = details["type"]
    if kind == "extra_forbidden":
        problem, remedy = _unknown(path, node_at(schema, path[:-1], plan) or {})
    elif kind == "missing":
        problem, remedy = _missing(path, node)
    elif kind in ("union_tag_not_found", "union_tag_invalid"):
        path = (*path, "by")
        problem, remedy = _no_way(details, node)
    else:
        problem, remedy = _WORDS.get(kind, _other)(path, details, node)
    yield Fault(path, problem, remedy, kind)


def _path_of(loc: tuple[int | str, ...]) -> KeyPath:
    """Return the place in the file: without the names of the choices that the model tried."""
    if loc[:1] == ("zones",) and len(loc) > 1:
        return (loc[0], *loc[2:])
    if loc[:1] == ("rate",) and len(loc) > 2:
        loc = (*loc[:2], *loc[3:])
        if loc[2:3] == ("table",) and len(loc) > 3:
            loc = (*loc[:3], *loc[4:])
    return loc


def _key(path: KeyPath) -> str:
    """Return the key that a value belongs to, for a sentence: ``breaks``, also for ``breaks[1]``."""
    return next((step for step in reversed(path) if isinstance(step, str)), "The plan")


def _unknown(path: KeyPath, holder: Node) -> tuple[str, str]:
    key = str(path[-1])
    known = keys_of(holder)
    return f"{key!r} is not a key here.", f"{nearest(key, known)}Keys here are {', '.join(known)}."


def _missing(path: KeyPath, node: Node) -> tuple[str, str]:
    if isinstance(path[-1], int):
        return f"{_key(path)} has too few values.", f"Give one more, {accepts(node)}."
    what = f": {_lower(node['description'])}" if node.get("description") else "."
    return f"{path[-1]} is missing{what}", f"Give {_how(path, node)}."


def _how(path: KeyPath, node: Node) -> str:
    """Say how a key is given: ``min as text with its unit, such as "12 gal/ac"``."""
    key = str(path[-1])
    if is_table(node):
        return f"a [{key}] table"
    if is_tables(node):
        return f"a [[{key}]] table"
    return f"{key} as {accepts(node)}"


def _lower(text: str) -> str:
    return text if text[:2].isupper() else text[:1].lower() + text[1:]


def _wrong_kind(path: KeyPath, details: ErrorDetails, node: Node) -> tuple[str, str]:
    key, value = _key(path), details["input"]
    if isinstance(value, Mapping) and is_tables(node):
        return f"[{key}] is one table where there can be several.", f"Write [[{key}]], with two brackets."
    if isinstance(value, list) and is_table(node):
        return f"[[{key}]] is a list of tables where there is one.", f"Write [{key}], with one bracket, and once."
    article = f"{key} = {shown(value)}" if path and path[-1] == key else f"{shown(value)} in {key}"
    if is_table(node):
        return f"{article} is not a table.", f"Write a [{key}] table."
    return f"{article} is not {accepts(node).partition(', such as')[0]}.", f"Give {accepts(node)}."


def _choice(path: KeyPath, details: ErrorDetails, node: Node) -> tuple[str, str]:
    value = details["input"]
    choices = choices_of(node)
    hint = nearest(value, choices) if isinstance(value, str) else ""
    return f"{_key(path)} = {shown(value)} is not one of its choices.", f"{hint}Use {accepts(node)}."


def _size(path: KeyPath, details: ErrorDetails, node: Node) -> tuple[str, str]:
    value, key = details["input"], _key(path)
    if value in ("", [], {}) or (isinstance(value, str) and not value.strip()):
        return f"{key} is empty.", f"Give {accepts(node)}."
    if isinstance(value, str):
        most = node.get("maxLength")
        return f"{key} = {shown(value)} has {len(value)} characters.", f"Use at most {most}."
    wanted = node.get("minItems") if details["type"] == "too_short" else node.get("maxItems")
    found = f"{len(value)} value{'s' if len(value) > 1 else ''}" if isinstance(value, list) else shown(value)
    bound = "at least" if details["type"] == "too_short" else "at most"
    exactly = "" if node.get("minItems") == node.get("maxItems") else f"{bound} "
    return f"{key} has {found}; it takes {exactly}{wanted}.", f"Give {accepts(node)}."


def _range(path: KeyPath, details: ErrorDetails, node: Node) -> tuple[str, str]:
    ctx = details.get("ctx", {})
    value, key = details["input"], _key(path)
    if "ge" in ctx:
        return f"{key} = {shown(value)} is too small.", f"Give {accepts(node)}." if _is_number(
            node
        ) else "Give 0 or more."
    return f"{key} = {shown(value)} is too large.", f"Give {accepts(node)}."


def _is_number(node: Node) -> bool:
    return node.get("type") in ("integer", "number")


def _no_way(details: ErrorDetails, node: Node) -> tuple[str, str]:
    choices = choices_of(node)
    use = f"Use {accepts(node)}."
    by = details["input"].get("by") if isinstance(details["input"], Mapping) else None
    if by is None:
        return "by is missing: how the rate comes about.", use
    hint = nearest(by, choices) if isinstance(by, str) else ""
    return f"by = {shown(by)} is not a way to a rate.", f"{hint}{use}"


def _other(path: KeyPath, details: ErrorDetails, node: Node) -> tuple[str, str]:
    known = f"Give {accepts(node)}." if node else ""
    return f"{_key(path)} = {shown(details['input'])}: {details['msg']}.", known


_WORDS: Final[Mapping[str, Callable[[KeyPath, ErrorDetails, Node], tuple[str, str]]]] = {
    **dict.fromkeys(
        (
            "string_type", "int_type", "float_type", "bool_type", "tuple_type", "dict_type", "model_type",
            "model_attributes_type", "finite_number", "date_type",
        ),
        _wrong_kind,
    ),
    "literal_error": _choice,
    **dict.fromkeys(("too_short", "too_long", "string_too_short", "string_too_long"), _size),
    **dict.fromkeys(("greater_than_equal", "less_than_equal", "greater_than", "less_than"), _range),
}  # fmt: skip
