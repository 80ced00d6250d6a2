"""The papers of a build: which there are, what they are called, and their bytes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from vrx.model.content import Content


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A file for people."""

    name: str
    format: str
    data: bytes


def papers(content: Content, *, svg: bool = False) -> Iterator[Paper]:
    """Render a content: report, a map a product, and the cab card; of a stopped build the report alone.

    Parameters
    ----------
    svg : bool
        The maps as SVG too.
    """
    yield from ()
