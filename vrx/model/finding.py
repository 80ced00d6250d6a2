"""A finding: one thing that a person should look at, though the work can go on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from shapely.geometry.base import BaseGeometry

Severity = Literal["stop", "caution", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing to say about a map or a file.

    Attributes
    ----------
    id : str
        Stable name of the problem, such as ``gap``; offices gate on it.
    severity : {"stop", "caution", "note"}
        ``stop``: no machine files. ``caution``: look before going on. ``note``: good to know.
    message, remedy : str
        What was found, with numbers and units; what to do about it.
    area_m2 : float, optional
        Ground concerned.
    where : shapely geometry, optional
        Where it is, in WGS 84 longitude and latitude.
    features : tuple of int
        Record numbers in the file concerned, from 1.
    product, zone : str
        What it belongs to; empty where it does not.
    """

    id: str
    severity: Severity
    message: str
    remedy: str = ""
    area_m2: float | None = None
    where: BaseGeometry | None = None
    features: tuple[int, ...] = ()
    product: str = ""
    zone: str = ""
