"""Gaps: ground that no polygon of the layer covers, the small ones with the neighbours that may take them in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vrx.geo.borders import Borders
from vrx.geo.coverage import Cut


@dataclass(frozen=True, slots=True, kw_only=True)
class Gaps:
    """Bare ground.

    Attributes
    ----------
    small : tuple of tuple of int
        Gaps, each as its pieces, that a neighbour takes in.
    hosts : tuple of tuple of int
        For each small gap a piece of every covered neighbour, the one with the longest shared border first.
    large : tuple of tuple of int
        Gaps that are left, each as its pieces.
    """

    small: tuple[tuple[int, ...], ...]
    hosts: tuple[tuple[int, ...], ...]
    large: tuple[tuple[int, ...], ...]


def find_gaps(cut_up: Cut, borders: Borders, area_m2: NDArray[np.float64], *, smaller_than_m2: float) -> Gaps:
    """Find the pieces that nothing covers, put those that hang together into one gap, and sort them by size.

    A gap without a covered neighbour counts as large, whatever its size.
    """
    bare = np.array([not cover for cover in cut_up.covers], dtype=bool)
    if not bare.any():
        return Gaps(small=(), hosts=(), large=())
    # Covered pieces keep apart; bare ones hang together.
    key = np.where(bare, -1, np.arange(len(bare)))
    group = borders.components(key)
    between = borders.between(group)
    first = np.unique(group, return_index=True)[1]
    small, hosts, large = [], [], []
    for gap in np.unique(group[bare]).tolist():
        pieces = np.flatnonzero(group == gap)
        near = tuple(int(first[one]) for one in between.of(gap) if not bare[first[one]])
        if near and area_m2[pieces].sum() < smaller_than_m2:
            small.append(tuple(pieces.tolist()))
            hosts.append(near)
        else:
            large.append(tuple(pieces.tolist()))
    return Gaps(small=tuple(small), hosts=tuple(hosts), large=tuple(large))
