"""Adding a product to a shared file, a question at a time."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vrx.errors import InputError, PlanError, VrxError
from vrx.exports.append import append_text
from vrx.inputs.plan_text import exists, read_toml
from vrx.inputs.product_questions import UNITS, Interview, Question, product_text
from vrx.inputs.shared_files import faults_of_shared
from vrx.units import Dialect

BACK = "<"
"""The answer that takes the one before it back."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """A product that was added.

    Attributes
    ----------
    product : mapping
        As it stands in the file.
    text : str
        The same as TOML.
    """

    path: Path
    product: Mapping[str, Any]
    text: str


def add_product(
    path: Path, *, ask: Callable[[Question], str], refused: Callable[[VrxError], None] | None = None
) -> Added:
    """Ask for a product's entry, and append it to a file of shared products; the rest of the file stays as it is.

    Parameters
    ----------
    path : Path
        The file; made where there is none.
    ask : callable
        Returns the answer to a question: text, ``<`` for the question before; raises EOFError where there is none.
    refused : callable, optional
        Told why an answer is not taken, and the question is asked again; unless given, that is the end.

    Raises
    ------
    VrxError
        The file can't be read, is no shared file, or can't be written; an answer is refused, or the answers end.
    """
    before = _bytes(path)
    values = read_toml(path).values if before is not None else {}
    _refuse_others(values, path)
    interview = Interview(_names(values), _dialect(values), ask_units=before is None)
    while (question := interview.question) is not None:
        try:
            said = ask(question)
            if said.strip() == BACK:
                interview.back()
            else:
                interview.answer(said)
        except EOFError:
            raise InputError(
                f"The answers end before {question.key}.",
                remedy=f"Nothing was written. {question.text}",
                where=str(path),
            ) from None
        except PlanError as err:
            if refused is None:
                raise err.at(question.key) from None
            refused(err)
    text = product_text(interview.product)
    head = "" if before is not None else f'{UNITS} = "{interview.dialect.system}"\n\n'
    expected = dict(values) | {"product": [*values.get("product", []), interview.product]}
    expected |= {} if before is not None else {UNITS: interview.dialect.system}
    _refuse_unreadable((before or b"").decode("utf-8-sig"), head + text, expected, path)
    append_text(path, head + text, before=before)
    return Added(path=path, product=interview.product, text=text)


def _bytes(path: Path) -> bytes | None:
    if not exists(path):
        return None
    read_toml(path)  # says what is wrong with a file that can't be read
    return path.read_bytes()


def _refuse_others(values: Mapping[str, Any], path: Path) -> None:
    for fault in faults_of_shared(values):
        raise PlanError(
            f"{fault.problem}", remedy=f"Name a file of shared products. {fault.remedy}".strip(), where=str(path)
        )


def _names(values: Mapping[str, Any]) -> list[str]:
    return [str(one["name"]).strip() for one in values.get("product", [])]


def _dialect(values: Mapping[str, Any]) -> Dialect:
    return Dialect(values.get("units"), values.get("acre", "international"))


def _refuse_unreadable(before: str, text: str, expected: Mapping[str, Any], path: Path) -> None:
    """Make sure that the file will say what it said, and the new product."""
    try:
        found = tomllib.loads(f"{before}\n{text}")
    except tomllib.TOMLDecodeError:
        found = {}
    if found != expected:
        raise PlanError(
            "A [[product]] can't be added at the end of this file.",
            remedy="Write its products as [[product]] tables, one key a line.",
            where=str(path),
        )
