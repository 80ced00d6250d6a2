"""A prescription as a GeoDataFrame, for those who go on in geopandas."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vrx.errors import InputError
from vrx.geo.crs import WGS84, move_shapes
from vrx.model.prescription import Prescription

if TYPE_CHECKING:
    from geopandas import GeoDataFrame


def to_geodataframe(prescription: Prescription, product: str) -> GeoDataFrame:
    """Return the pieces of one product's map, keep-outs included at rate 0, in WGS 84 longitude and latitude.

    Columns: ``zone``, ``treated``, ``wanted`` and ``given`` (in the unit in ``unit``), ``why``,
    ``geodesic_area_m2``, ``grid_area_m2``, ``geometry``.

    Raises
    ------
    InputError
        The prescription has no such product.
    """
    import geopandas  # noqa: PLC0415 - slow to load, and only wanted here

    found = next((one for one in prescription.maps if one.product.name == product), None)
    if found is None:
        names = ", ".join(repr(one.product.name) for one in prescription.maps)
        raise InputError(f"The prescription has no product {product!r}.", remedy=f"Use {names}.")
    zone_map = prescription.zone_map
    rates = np.array([float(found.product.rate_of(int(number))) for number in found.numbers])
    return geopandas.GeoDataFrame(
        {
            "zone": list(found.zones),
            "treated": found.treated,
            "wanted": found.wanted,
            "given": np.where(found.treated, rates, 0.0),
            "unit": found.product.unit.name,
            "why": list(found.why),
            "geodesic_area_m2": zone_map.area_m2,
            "grid_area_m2": zone_map.grid_m2,
        },
        geometry=list(move_shapes(zone_map.shapes, zone_map.ground.frame.crs, WGS84)),
        crs=WGS84,
    )
