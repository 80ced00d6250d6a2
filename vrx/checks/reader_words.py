"""What the reader noticed or refused, as a check tells it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from vrx.checks.rule import Seen
from vrx.errors import CrsError, VrxError
from vrx.model.checked_map import CheckedMap

# What readers say to do stands in a plan as a rule; a check is told the same things by its options.
_PLAN_WORDS: Final = (
    ('Say it in the plan, as crs = "EPSG:..."', "Say it with --crs EPSG:..."),
    ('give crs = "EPSG:..." in the plan', "say it with --crs EPSG:..."),
    ('such as crs = "EPSG:32614"', "such as --crs EPSG:32614"),
    ("(with crs in the plan)", "(with --crs)"),
    ('Name one of them, as layer = "..."', "Name the file itself, or say which with --layer"),
)


def noticed(on: CheckedMap, finding: str) -> Iterator[Seen]:
    """Yield what the reader of the file noticed under an id, with its records and its place."""
    for one in on.layer.findings if on.layer is not None else ():
        if one.id == finding:
            yield Seen(
                severity=one.severity,
                message=check_words(one.message),
                remedy=check_words(one.remedy),
                area_m2=one.area_m2,
                on_earth=one.where,
                features=one.features,
                product=one.product,
                zone=one.zone,
            )


def refused(on: CheckedMap, kind: type[CrsError]) -> Iterator[Seen]:
    """Yield why the file could not be read, where that is for a reason of a kind."""
    yield from (as_told(one, on) for one in on.failures if isinstance(one, kind))


def as_told(err: VrxError, on: CheckedMap) -> Seen:
    """Return an error as what a rule sees, with the file, line or record that it names."""
    where = f"{err.where}: " if err.where and err.where != on.source.name else ""
    return Seen(message=check_words(f"{where}{err.problem}"), remedy=check_words(err.remedy))


def check_words(text: str) -> str:
    """Return what a reader says with the options of a check in place of the keys of a plan."""
    for plan, check in _PLAN_WORDS:
        text = text.replace(plan, check)
    return text
