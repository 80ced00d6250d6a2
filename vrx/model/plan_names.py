"""Names that a plan uses in several places, and whether they agree."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from vrx.model.keys import KeyPath, Refused
from vrx.words import nearest

_MOST_NAMES = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class NamesInPlan:
    """The product names of a plan by where they stand.

    Attributes
    ----------
    products, rates, keep_outs, overlays, drives, boxes : mapping of path to str
        Names given by [[product]], and named by [[rate]], [[keep_out]], [[overlay]], [[machine.drive]] and
        [machine] tank.
    shared : tuple of str
        Names of the shared products, whether this pass uses them or not.
    """

    products: Mapping[KeyPath, str] = field(default_factory=dict)
    rates: Mapping[KeyPath, str] = field(default_factory=dict)
    keep_outs: Mapping[KeyPath, str] = field(default_factory=dict)
    overlays: Mapping[KeyPath, str] = field(default_factory=dict)
    drives: Mapping[KeyPath, str] = field(default_factory=dict)
    boxes: Mapping[KeyPath, str] = field(default_factory=dict)
    shared: tuple[str, ...] = ()


def names_refused(names: NamesInPlan) -> Iterator[Refused]:
    """Give every name that is used twice, unknown, or has no rate, each with its place."""
    yield from _twice(names.products, "Two products are named {!r}.", "Give each product its own name.")
    yield from _twice(names.rates, "Two [[rate]] tables are for {!r}.", "Give each product one.")
    known = tuple(dict.fromkeys((*names.products.values(), *names.shared)))
    yield from _unknown(names.rates, known, "[[rate]]")
    yield from _unknown(names.keep_outs, known, "[[keep_out]]")
    yield from _unknown(names.overlays, known, "[[overlay]]")
    yield from _unknown(names.drives, known, "[[machine.drive]]")
    yield from _unknown(names.boxes, known, "[machine] tank")
    rated = set(names.rates.values())
    for at, name in names.products.items():
        if name not in rated:
            yield Refused(
                at,
                f"No [[rate]] says how much of {name!r} goes where.",
                f"Add a [[rate]] with product = {_quoted(name)}, or take the [[product]] out.",
            )


def _twice(names: Mapping[KeyPath, str], problem: str, remedy: str) -> Iterator[Refused]:
    seen: set[str] = set()
    for at, name in names.items():
        if name in seen:
            yield Refused(at, problem.format(name), remedy)
        seen.add(name)


def _unknown(names: Mapping[KeyPath, str], known: tuple[str, ...], table: str) -> Iterator[Refused]:
    there = set(known)
    listed = ", ".join(map(_quoted, known[:_MOST_NAMES])) + (" ..." if len(known) > _MOST_NAMES else "")
    for at, name in names.items():
        if name not in there:
            yield Refused(
                at,
                f"{table} names the product {name!r}, which is not there.",
                f"{nearest(name, known)}Use {listed}." if known else "Add it as a [[product]].",
            )


def _quoted(name: str) -> str:
    return f'"{name}"'
