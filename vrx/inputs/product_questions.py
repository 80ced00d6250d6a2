"""A product's entry, asked for a question at a time; each answer is checked at once, by the model and in its words."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, get_args

from pydantic import ValidationError

from vrx.errors import PlanError
from vrx.inputs.plan_faults import faults_of
from vrx.model.forms import KINDS_OF_FORM
from vrx.model.plan_schema import Node, accepts, choices_of, node_at, toml_text, whole_schema
from vrx.model.product import Product
from vrx.units import Dialect, System

UNITS: Final = "units"
_UNIT: Final = "unit"
_NEEDED: Final = ("name", "form", "use", _UNIT, "min", "max", "step")
_RATES: Final = ("min", "max", "step", "default")
_LISTS: Final = ("hand_rates", "crops")
_YES: Final = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}
_BARE_NUMBER: Final = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?|\.[0-9]+")
# What the model sees before the question about it was asked.
_BEFORE_ASKED: Final = {"name": "?", "form": "granular", "use": "other"}
_EXAMPLES: Final = {"volume/area": "gal/ac, L/ha", "mass/area": "lb/ac, kg/ha", "count/area": "seeds/ac, seeds/m2"}

Answers = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question.

    Attributes
    ----------
    key : str
        The key that it is about.
    text : str
        What is asked, in the model's words, with what is accepted.
    is_needed : bool
        False where no answer leaves the key out.
    """

    key: str
    text: str
    is_needed: bool


# Keys that are asked for after those that every product needs, and of which products.
_MORE: Final[tuple[tuple[str, Callable[[Answers], bool]], ...]] = (
    ("off_allowed", lambda _: True),
    ("default", lambda _: True),
    ("hand_rates", lambda _: True),
    ("density", lambda said: said["form"] in ("liquid", "gas")),
    ("analysis", lambda said: said["use"] in ("fertiliser", "lime")),
    ("seeds_per", lambda said: said["form"] == "seed"),
    ("thousand_seed_weight", lambda said: said["form"] == "seed" and not said.get("seeds_per")),
    ("price", lambda _: True),
    ("package", lambda _: True),
    ("crops", lambda _: True),
)


class Interview:
    """Questions and answers about one product.

    Parameters
    ----------
    taken : collection of str
        Names of products that are there already.
    dialect : Dialect
        How the file means ``gal`` and ``ac``.
    ask_units : bool
        Ask what they mean first, where the file is yet to be made.
    """

    def __init__(self, taken: Collection[str], dialect: Dialect, *, ask_units: bool = False) -> None:
        self.dialect = dialect
        self._taken = {one.casefold(): one for one in taken}
        self._answers: dict[str, Any] = {}
        self._units = (UNITS,) if ask_units else ()
        schema = whole_schema()
        self._schema: Node = {**schema["$defs"]["Product"], "$defs": schema["$defs"]}

    @property
    def question(self) -> Question | None:
        """The next question; None where all are answered."""
        key = next((key for key in self._keys() if key not in self._answers), None)
        if key is None:
            return None
        is_needed = key in (UNITS, *_NEEDED)
        return Question(key=key, text=self._text(key, is_needed=is_needed), is_needed=is_needed)

    @property
    def product(self) -> dict[str, Any]:
        """The product as TOML has it, without what was left out."""
        keys = (*_NEEDED, *(key for key, _ in _MORE))
        said = {key: self._answers.get(key) for key in keys if key != _UNIT}
        return {key: value for key, value in said.items() if value is not None}

    def answer(self, text: str) -> None:
        """Take the answer to the next question.

        Raises
        ------
        PlanError
            The model does not take it: the same question is still to be answered.
        """
        question = self.question
        if question is None:
            raise PlanError("All questions are answered.")
        said = text.strip()
        if not said and question.is_needed:
            raise PlanError(f"{question.key} is needed.", remedy=f"{question.text}")
        value = self._value(question.key, said) if said else None
        self._check(question.key, value)
        self._answers[question.key] = value
        if question.key == UNITS:
            self.dialect = Dialect(value)

    def back(self) -> None:
        """Take the last answer back."""
        if self._answers:
            self._answers.popitem()

    def _keys(self) -> list[str]:
        keys = [*self._units, *_NEEDED]
        if all(key in self._answers for key in keys):
            keys += [key for key, belongs in _MORE if belongs(self._answers)]
        return keys

    def _text(self, key: str, *, is_needed: bool) -> str:
        if key == UNITS:
            return "What gal, pt and cwt mean in this file: us or metric."
        if key == _UNIT:
            examples = ", ".join(_EXAMPLES[kind] for kind in KINDS_OF_FORM[self._answers["form"]])
            return f"The unit in which the machine steps, such as {examples}."
        node = node_at(self._schema, (key,)) or {}
        said = str(node.get("description", key))
        if key in _RATES:
            how = f" A number counts in {self._answers[_UNIT]}."
        elif key == "off_allowed":
            how = " yes or no; yes unless said."
        elif key == "analysis":
            how = " Write it like N 32 %, S 5 %."
        elif key in _LISTS:
            how = " Several with commas between."
        elif choices_of(node) or "examples" in node:
            how = f" ({accepts(node)})".replace('"', "")  # nobody types quotes here
        else:
            how = ""
        return f"{said}{how}" + ("" if is_needed else " (Enter: leave it out)")

    def _value(self, key: str, said: str) -> Any:
        try:
            said.encode("utf-8")
        except UnicodeEncodeError:
            raise PlanError(f"The answer to {key} is not UTF-8.", remedy="Type it again.") from None
        if key == UNITS:
            if said not in get_args(System):
                raise PlanError(f"units = {toml_text(said)} is not one of its choices.", remedy="Use us or metric.")
            return said
        if key == "off_allowed":
            if said.casefold() not in _YES:
                raise PlanError(f"{said!r} is neither yes nor no.", remedy="Answer yes or no.")
            return None if _YES[said.casefold()] else False  # true unless said
        if key == "analysis":
            return dict(_nutrient(one) for one in said.split(","))
        if key in _LISTS:
            parts = [one.strip() for one in said.split(",") if one.strip()]
            return [self._rate(one) for one in parts] if key == "hand_rates" else parts
        return self._rate(said) if key in _RATES else said

    def _rate(self, said: str) -> str:
        return f"{said} {self._answers[_UNIT]}" if _BARE_NUMBER.fullmatch(said) else said

    def _check(self, key: str, value: Any) -> None:
        if key == "name" and str(value).casefold() in self._taken:
            raise PlanError(
                f"A product named {self._taken[str(value).casefold()]!r} is there already.",
                remedy="Give another name; to change that one, edit the file.",
            )
        if key == UNITS:
            return
        said = self._answers | {key: value}
        is_whole = all(said.get(one) is not None for one in _NEEDED)
        mine = "step" if key == _UNIT else key
        for whole in self._filled_up(said):
            try:
                Product.model_validate(whole, context={"dialect": self.dialect})
            except ValidationError as err:
                for fault in faults_of(err, whole, self._schema):
                    if is_whole or fault.path[:1] == (mine,):
                        raise PlanError(fault.problem, remedy=fault.remedy) from None

    def _filled_up(self, said: Answers) -> Iterator[dict[str, Any]]:
        """Give the answers with what the model needs beside them: a step of the unit, and limits that agree."""
        whole = {key: value for key, value in said.items() if value is not None and key not in (UNITS, _UNIT)}
        one = f"1 {said.get(_UNIT) or 'kg/ha'}"
        largest = next((said[key] for key in ("max", "min") if said.get(key) and not _is_nothing(said[key])), one)
        for step in dict.fromkeys((one, largest)):
            yield {**_BEFORE_ASKED, "min": largest, "max": largest, "step": step, **whole}


def product_text(product: Mapping[str, Any]) -> str:
    """Return a product as a ``[[product]]`` table."""
    return "\n".join(["[[product]]", *(f"{key} = {toml_text(value)}" for key, value in product.items())]) + "\n"


def _nutrient(said: str) -> tuple[str, str]:
    name, _, share = said.strip().partition(" ")
    share = share.strip(" =:")
    if not share:
        raise PlanError(f"{said.strip()!r} does not say how much.", remedy="Write it like N 32 %, S 5 %.")
    return name.strip("=:"), f"{share} %" if _BARE_NUMBER.fullmatch(share) else share


def _is_nothing(rate: str) -> bool:
    return re.match(r"\s*[+-]?0*\.?0*(?![0-9.])", rate) is not None
