"""``KEY=VALUE``: which value of a plan is meant, and what it is to be.

A key is written as errors write it: ``field.crop``, ``product[Potash 0-0-60].max``, ``receiver.formats``. One table
among several is chosen in brackets, by its name or by its place from 0.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from vrx.errors import PlanError
from vrx.model.keys import KeyPath
from vrx.model.plan_schema import Node, is_table, keys_of, node_at
from vrx.words import nearest, some

_KEY: Final = re.compile(r"""\s*(?:"((?:\\.|[^"\\])*)"|'([^']*)'|([^\s.\[\]="'][^.\[\]="']*))\s*""")
_CHOSEN: Final = re.compile(r"""\[\s*(?:"((?:\\.|[^"\\])*)"\s*|'([^']*)'\s*|([^\]"'][^\]]*))\]\s*""")
_STARTS_TOML: Final = ("[", "{", '"', "'")
# What a person calls a table among several by, the first that fits.
_NAMES: Final = ("name", "product", "where", "reason", "why", "finding")
_EXAMPLE: Final = 'Write it like field.crop=barley or product[UAN 32].max="26 gal/ac".'


@dataclass(frozen=True, slots=True)
class Chosen:
    """One table among several: by its name, or by its place from 0."""

    by: str | int

    def __str__(self) -> str:
        return f"[{self.by}]"


Step = str | Chosen


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """What ``KEY=VALUE`` says.

    Attributes
    ----------
    said : str
        The whole of it.
    key : str
        As it was written.
    steps : tuple of str and Chosen
    value : object
        As TOML gives it.
    """

    said: str
    key: str
    steps: tuple[Step, ...]
    value: Any


def assignment(said: str) -> Assignment:
    """Read ``KEY=VALUE``.

    The value is TOML; what does not begin like a list, a table or a quoted text, and is none of TOML's numbers, dates
    and truth values, is text as it stands, since a shell takes quotes away.

    Raises
    ------
    PlanError
        There is no key, no value, or a value that begins like TOML and is none.
    """
    steps, at = _steps(said)
    if not steps or said[at : at + 1] != "=":
        raise PlanError(f"{said!r} is not KEY=VALUE.", remedy=_EXAMPLE)
    return Assignment(said=said, key=said[:at].strip(), steps=steps, value=_value(said[at + 1 :].strip(), said))


def _steps(said: str) -> tuple[tuple[Step, ...], int]:
    steps: list[Step] = []
    at = 0
    while match := _KEY.match(said, at):
        steps.append(_word(match).strip())
        at = match.end()
        while match := _CHOSEN.match(said, at):
            bare = match[3]
            steps.append(Chosen(int(bare) if bare and re.fullmatch(r"[0-9]{1,6}", bare.strip()) else _word(match)))
            at = match.end()
        if said[at : at + 1] != ".":
            return tuple(steps), at
        at += 1
    return (), at


def _word(match: re.Match[str]) -> str:
    if match[1] is None:
        return match[2] if match[2] is not None else match[3].strip()
    try:
        return str(json.loads(f'"{match[1]}"'))
    except ValueError:
        return match[1]


def _value(text: str, said: str) -> Any:
    try:
        found = tomllib.loads(f"value = {text}")
    except tomllib.TOMLDecodeError:
        if text.startswith(_STARTS_TOML):
            raise PlanError(
                f"The value of {said[:80]!r} begins like TOML and is none.",
                remedy="""Close quotes and brackets, and keep them from the shell, as in 'hand_rates=["8 gal/ac"]'.""",
            ) from None
        return text
    except (ValueError, RecursionError):
        raise PlanError(f"The value of {said[:80]!r} can't be read.", remedy="Give a shorter one.") from None
    # A line break would let a second key in.
    return found["value"] if found.keys() == {"value"} else text


def path_of(values: Mapping[str, Any], steps: tuple[Step, ...], schema: Node) -> KeyPath:
    """Return the place in a plan's values that steps lead to; the last may be a key that is not there yet.

    Raises
    ------
    PlanError
        A step leads nowhere; the message names what there is.
    """
    path: KeyPath = ()
    here: Any = values
    for nth, step in enumerate(steps):
        if isinstance(step, Chosen):
            at = _place(here, step, path)
            path, here = (*path, at), here[at]
            continue
        if isinstance(here, list):
            raise PlanError(f"There can be several {_text(path)} tables, and one is meant.", remedy=_which(here, path))
        if not isinstance(here, Mapping):
            raise PlanError(f"{_text(path)} is no table, and has no {step!r} in it.", remedy="Set it as a whole.")
        if step not in here and nth + 1 < len(steps):
            here = _missing(path, step, steps[nth + 1], schema, values)
        else:
            here = here.get(step)
        path = (*path, step)
    return path


def _missing(path: KeyPath, step: str, after: Step, schema: Node, values: Any) -> Mapping[str, Any]:
    """Stand in for a table that the plan does not have and may have; refuse any other key."""
    node = node_at(schema, (*path, step), values)
    if node is None:
        known = keys_of(node_at(schema, path, values) or {})
        raise PlanError(
            f"{step!r} is not a key of {_text(path) or 'a plan'}.",
            remedy=f"{nearest(step, known)}Keys there are {', '.join(known)}." if known else "",
        )
    if isinstance(after, Chosen) or not (is_table(node) or node.get("type") == "object"):
        raise PlanError(f"The plan has no {_text((*path, step))}.", remedy="Add it to the plan.")
    return {}


def _place(here: Any, step: Chosen, path: KeyPath) -> int:
    if not isinstance(here, list):
        if here is None or here == {}:
            raise PlanError(f"The plan has no {_text(path)}.", remedy="Add it to the plan.")
        raise PlanError(f"{_text(path)} is not one of several.", remedy=f"Write {_text(path)} without {step}.")
    if isinstance(step.by, int):
        if step.by < len(here):
            return step.by
        problem = f"{_text(path)} has {len(here)}, counted from 0: there is no {step}."
        raise PlanError(problem, remedy=_which(here, path))
    for key in _NAMES:
        found = [at for at, one in enumerate(here) if isinstance(one, Mapping) and _said(one, key) == step.by]
        if len(found) == 1:
            return found[0]
        if found:
            raise PlanError(
                f"{len(found)} of {_text(path)} are called {step.by!r}.",
                remedy=f"Choose by place: {' or '.join(f'{_text(path)}[{at}]' for at in found)}.",
            )
    names = _names(here)
    raise PlanError(
        f"There is no {_text(path)} called {step.by!r} in this plan.",
        remedy=f"{nearest(step.by, names)}{_which(here, path)}",
    )


def _said(table: Mapping[str, Any], key: str) -> str | None:
    value = table.get(key)
    return value.strip() if isinstance(value, str) else None


def _names(here: list[Any]) -> list[str]:
    tables = [one for one in here if isinstance(one, Mapping)]
    return [next((word for key in _NAMES if (word := _said(one, key))), "") for one in tables]


def _which(here: list[Any], path: KeyPath) -> str:
    written = [f"{_text(path)}[{name or at}]" for at, name in enumerate(_names(here))]
    return f"Write {some(written, between=' or ')}." if written else f"Set {_text(path)} as a whole."


def _text(path: KeyPath) -> str:
    text = ""
    for step in path:
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else step
    return text
