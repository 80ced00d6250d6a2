"""The map does not say in which map coordinates (CRS) it is, so nobody knows where it lies.

Why it matters: a display may place it elsewhere on earth, or take metres for degrees; then no rate
goes where it was meant to.

How to put it right: put the .prj of the shapefile beside it, or say the CRS with --crs, such as
--crs EPSG:32615, where you know it; or have the map saved again in WGS 84 longitude and latitude,
which is what displays read most.

Source: J-7855; the rest is common practice.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.reader_words import refused
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.errors import NoCrsError
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    yield from refused(on, NoCrsError)


RULE = Rule(id="no-crs", looks_at="file", needs=(), look=look)
