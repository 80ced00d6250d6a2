"""The field cut into pieces: the ground, and which zones and keep-outs cover each part of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.units import Dialect

NO_ZONE: Final = "(no zone)"


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the local coordinates of a field have their origin, in degrees on WGS 84.

    Local coordinates are metres east and north in a Lambert azimuthal equal-area projection of WGS 84
    centred here, so that planar areas are true areas. Source: EPSG method 9820.
    """

    longitude: float
    latitude: float

    def __post_init__(self) -> None:
        if not (-180 <= self.longitude <= 180 and -90 <= self.latitude <= 90):
            raise ValueError(f"no place on earth: longitude {self.longitude}, latitude {self.latitude}")

    @property
    def crs(self) -> str:
        """The frame as a PROJ text."""
        return (
            f"+proj=laea +lat_0={self.latitude:.8f} +lon_0={self.longitude:.8f} "
            "+x_0=0 +y_0=0 +datum=WGS84 +units=m +no_defs"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOutArea:
    """Ground that gets nothing, set-back included, clipped to the field; in local coordinates.

    Attributes
    ----------
    is_rest : bool
        True for the ground beside the part of the field that is to be treated.
    """

    name: str
    products: tuple[str, ...]
    shape: BaseGeometry
    set_back_m: float = 0.0
    is_rest: bool = False

    def binds(self, product: str) -> bool:
        """Tell whether a product may not go here."""
        return not self.products or product in self.products


@dataclass(frozen=True, slots=True, kw_only=True)
class OverlayArea:
    """Ground drawn over the zones, clipped to the field; in local coordinates."""

    name: str
    shape: BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """A field on the ground.

    Attributes
    ----------
    frame : Frame
    boundary : Polygon or MultiPolygon
        In local coordinates, valid.
    keep_outs : tuple of KeepOutArea
    overlays : tuple of OverlayArea
        In the order in which they are laid over the zones.
    boundary_area_m2 : float
        Geodesic area on WGS 84.
    grid_crs : str
        Where the grid areas are measured, such as ``EPSG:32615``.
    dialect : Dialect
        How the plan's people say areas and lengths.
    """

    frame: Frame
    boundary: BaseGeometry
    keep_outs: tuple[KeepOutArea, ...]
    overlays: tuple[OverlayArea, ...] = ()
    boundary_area_m2: float
    grid_crs: str
    dialect: Dialect


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneMap:
    """The ground cut up: a valid coverage of the whole boundary, keep-outs included.

    Attributes
    ----------
    ground : Ground
    zone_names : tuple of str
        Zone of each polygon of the zone layer.
    records : int64 array
        Record number of each polygon of the zone layer.
    shapes : object array, shape (n_pieces,)
        Polygons in local coordinates.
    covers : tuple of tuple of int
        For each piece the polygons of the zone layer that cover it, in file order: one as a rule, several
        for an overlap, none for a gap that gets the default rate.
    kept_out, overlaid : tuple of tuple of int
        For each piece the keep-outs and the overlays that cover it.
    fills : mapping of int to tuple of int
        Gaps too small to treat: the piece, and the neighbours that may take it in, the one with the longest
        shared border first.
    area_m2, grid_m2 : float64 array, shape (n_pieces,)
        True area, and planar area in the grid CRS.
    """

    ground: Ground
    zone_names: tuple[str, ...]
    records: NDArray[np.int64]
    shapes: NDArray[np.object_]
    covers: tuple[tuple[int, ...], ...]
    kept_out: tuple[tuple[int, ...], ...]
    overlaid: tuple[tuple[int, ...], ...]
    fills: Mapping[int, tuple[int, ...]]
    area_m2: NDArray[np.float64]
    grid_m2: NDArray[np.float64]

    def zone_of(self, piece: int) -> str:
        """Return the name of a piece: its zone, ``A+B`` for an overlap, ``(no zone)`` for a gap.

        Where zones have such names of their own, an overlap is called ``(A+B)+C`` or ``A+B (overlap)``.
        """
        names = sorted({self.zone_names[polygon] for polygon in self.covers[piece]})
        if len(names) < 2:
            return names[0] if names else NO_ZONE
        joined = "+".join(f"({name})" if "+" in name else name for name in names)
        return f"{joined} (overlap)" if joined in self.zone_names else joined

    def treated(self, product: str) -> NDArray[np.bool_]:
        """Tell which pieces a product may go onto."""
        binding = {at for at, area in enumerate(self.ground.keep_outs) if area.binds(product)}
        return np.array([binding.isdisjoint(areas) for areas in self.kept_out], dtype=bool)
