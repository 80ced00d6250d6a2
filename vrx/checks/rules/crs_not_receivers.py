"""The map is in other map coordinates than the ones that the plan's receiver loads.

Why it matters: a display that expects longitude and latitude refuses a map in metres, or puts it in
another place.

How to put it right: copy the map again from its bundle, have it saved in the receiver's system, or take the
one that ``vrx check --fix OUT`` writes. Correct crs of [receiver] where the display loads others too.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.geo.crs import WGS84, parse_crs, short_name
from vrx.model.checked_map import CheckedMap

_BY_STANDARD = ("geojson", "json")
_LOADED = (*_BY_STANDARD, "shp", "gpkg")


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    if on.source.format not in _LOADED:
        return
    wanted = WGS84 if on.source.format in _BY_STANDARD else on.the_plan.receiver.crs
    own = on.the_layer.crs
    if own == wanted or parse_crs(own).equals(parse_crs(wanted), ignore_axis_order=True):
        return
    yield Seen(
        message=f"The map is in {short_name(own)}, and the plan's receiver loads {short_name(wanted)}.",
        remedy="Load the one that vrx check --fix OUT writes; or correct crs of [receiver] if it loads this too.",
    )


RULE = Rule(id="crs-not-receivers", looks_at="file", needs=("layer", "plan"), look=look)
