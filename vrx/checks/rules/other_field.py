"""The map lies in another place than the field.

Why it matters: loaded here it gives no rate at all, or the default rate everywhere; and the field that it was made for
may be waiting for it.

How to put it right: load the map that was made for this field; compare the code in its name with the card. Where the
map is the right one, one of the two was saved in the wrong map coordinates: have it saved again.

Source: geodesic distance on the WGS 84 ellipsoid, Karney2013.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import on_earth
from vrx.geo.direction import distance_and_azimuth, wind_of
from vrx.model.checked_map import CheckedMap
from vrx.units import FOOT_M

_FAR_M = 1000.0


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    shapes, ground = on.the_shapes, on.the_ground
    if shapes.meets_field:
        return
    field = on_earth(ground.boundary, ground.frame).centroid
    own = on_earth(shapes.covered, shapes.frame).centroid
    distance, azimuth = distance_and_azimuth((field.x, field.y), (own.x, own.y))
    whose = on.plan.field.name if on.plan is not None else "the field"
    yield Seen(
        message=(
            f"No part of the map lies in {whose}: it lies {_far_text(distance, on)} {wind_of(azimuth)} of it, "
            f"around longitude {own.x:.5f}, latitude {own.y:.5f} (middle to middle)."
        ),
        remedy="Take the map that was made for this field; compare the code in its name with the card.",
        area_m2=shapes.covered_m2,
        where=shapes.covered,
    )


def _far_text(distance_m: float, on: CheckedMap) -> str:
    if distance_m < _FAR_M:
        metric, us = f"{distance_m:.0f} m", f"{distance_m / float(FOOT_M):,.0f} ft"
    else:
        metric, us = f"{distance_m / 1000:,.2f} km", f"{distance_m / float(5280 * FOOT_M):,.2f} mi"
    return f"{us} ({metric})" if on.dialect.system == "us" else f"{metric} ({us})"


RULE = Rule(id="other-field", looks_at="shapes", needs=("shapes", "field"), look=look)
