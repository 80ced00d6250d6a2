"""Products that a plan names and that neither it nor its shared file has: an entry to paste for each."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from vrx.errors import UnitError
from vrx.inputs.plan_changes import changed_and_merged
from vrx.inputs.plan_text import read_toml
from vrx.model.plan_schema import inside
from vrx.units import Dialect, Unit, number_and_rest, parse_unit

_FORM_OF_KIND: Final = {"volume/area": "liquid", "mass/area": "granular", "count/area": "seed"}
_USES: Final = {"seed": "seed"}


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingProduct:
    """A product without an entry.

    Attributes
    ----------
    name : str
    entry : str
        A [[product]] table to paste and to fill in.
    stand_in : dict
        The same with limits that refuse nothing, so that the rest of the plan can be read.
    """

    name: str
    entry: str
    stand_in: Mapping[str, Any]


def missing_products(path: Path) -> tuple[MissingProduct, ...]:
    """Return the products that a plan gives rates for and that nobody has described, in the order of their rates.

    Empty where the shared file itself can't be read: then nothing is known about names.

    Raises
    ------
    PlanError
        The plan is not TOML, or can't be read.
    """
    changed = changed_and_merged(read_toml(path))
    values, shared = changed.merged.values, changed.merged.shared_products
    if shared is None:
        return ()
    known = {*shared, *(_name(one) for one in _tables(values, "product"))}
    rates: dict[str, Mapping[str, Any]] = {}
    for rate in _tables(values, "rate"):
        name = rate.get("product")
        if isinstance(name, str) and name.strip() and name.strip() not in known:
            rates.setdefault(name.strip(), rate)
    return tuple(_missing(name, rate, changed.dialect) for name, rate in rates.items())


def _missing(name: str, rate: Mapping[str, Any], dialect: Dialect) -> MissingProduct:
    unit = next(_units(rate, dialect), None)
    kind = "mass/area" if unit is None else unit.kind
    form = _FORM_OF_KIND.get(kind, "granular")
    said = "kg/ha" if unit is None else unit.name.replace(f" {unit.of}", "") if unit.of else unit.name
    use = _USES.get(form, "fertiliser")
    entry = "\n".join(
        (
            "[[product]]",
            f"name = {json.dumps(name, ensure_ascii=False)}",
            f'form = "{form}"  # seed, liquid, granular or gas',
            f'use = "{use}"  # seed, fertiliser, crop protection, lime or other',
            f'min = "... {said}"  # the lowest rate that the product and the machine can do',
            f'max = "... {said}"  # the highest',
            f'step = "... {said}"  # the smallest change of rate that the machine can make',
        )
    )
    stand_in = {
        "name": name, "form": form, "use": "other", "min": f"0 {said}", "max": f"1000000 {said}", "step": f"1 {said}",
    }  # fmt: skip
    return MissingProduct(name=name, entry=entry, stand_in=stand_in)


def _units(rate: Mapping[str, Any], dialect: Dialect) -> Iterator[Unit]:
    """Yield the units in which a [[rate]] is given."""
    table = rate.get("table")
    texts: list[object] = [rate.get("unit")]
    texts += list(table.values()) if isinstance(table, Mapping) else []
    texts += [inside(rate, ("rates", 0)), inside(rate, ("points", 0, 1))]
    for text in texts:
        if isinstance(text, str) and text:
            with suppress(UnitError):
                unit = text if text == rate.get("unit") else number_and_rest(text, what="rate", example="")[1]
                found = parse_unit(unit, dialect)
                if found.kind.endswith("/area"):
                    yield found


def _tables(values: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
    found = values.get(key)
    return [one for one in found if isinstance(one, Mapping)] if isinstance(found, list) else []


def _name(table: Mapping[str, Any]) -> str:
    name = table.get("name")
    return name.strip() if isinstance(name, str) else ""
