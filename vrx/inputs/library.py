"""One product of a file of shared products, read on its own."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from vrx.errors import PlanError, Problems
from vrx.inputs.plan_faults import faults_of
from vrx.inputs.plan_text import read_toml
from vrx.inputs.shared_files import dialect_of_text, faults_of_shared
from vrx.model.plan_schema import whole_schema
from vrx.model.product import Product
from vrx.units import Dialect


@dataclass(frozen=True, slots=True, kw_only=True)
class Library:
    """A file of shared products: the one that was asked for, None where it has none of that name, and all names."""

    product: Product | None
    names: tuple[str, ...]
    dialect: Dialect


def read_library(path: Path, name: str) -> Library:
    """Read a product from a file of shared products.

    Raises
    ------
    PlanError, Problems
        The file can't be read, or what it says of the product can't be used.
    """
    file = read_toml(path)
    faults = faults_of_shared(file.values)
    tables = [] if faults else file.values.get("product", [])
    dialect = dialect_of_text(file.values, Dialect("metric"))
    product = None
    for at, table in enumerate(tables):
        if str(table["name"]).strip() == name:
            try:
                product = Product.model_validate(table, context={"dialect": dialect})
            except ValidationError as err:
                schema = whole_schema()
                own = {**schema["$defs"]["Product"], "$defs": schema["$defs"]}
                faults += [one._replace(path=("product", at, *one.path)) for one in faults_of(err, table, own)]
    if faults:
        places = file.places(fault.path for fault in faults)
        raise Problems(PlanError(one.problem, remedy=one.remedy, where=places[one.path][0]) for one in faults)
    return Library(product=product, names=tuple(str(one["name"]).strip() for one in tables), dialect=dialect)
