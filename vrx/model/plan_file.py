"""A plan with the files that it was read from."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from vrx.model.change import Change
from vrx.model.plan import Plan
from vrx.model.product import Product


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFile:
    """A plan as read.

    Attributes
    ----------
    plan : Plan
        With shared products and machines merged in; of the shared products only those that have a rate.
    path : Path
        The plan's file, as given.
    folder : Path
        Where the plan lies: its relative paths start here.
    sources : tuple of Path
        The plan's file and the shared files that were read.
    text : str
        What stands in the plan's file; empty for a plan that was changed after it was read.
    changes : tuple of Change
        What was changed for this build before the plan was checked; the text does not hold it.
    swapped_out : tuple of Product
        The products that others stand in for, as the plan has them; without those that can't be read.
    """

    plan: Plan
    path: Path
    folder: Path
    sources: tuple[Path, ...]
    text: str = field(repr=False)
    changes: tuple[Change, ...] = ()
    swapped_out: tuple[Product, ...] = ()
