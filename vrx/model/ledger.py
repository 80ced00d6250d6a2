"""The ledger: acres and amounts that add up."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from vrx.model.loads import Loads
from vrx.model.order import Order
from vrx.model.prescription import OverlayEffect


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerRow:
    """Ground of one zone that got one rate for one reason.

    Attributes
    ----------
    inputs : tuple of str
        What the wanted rate was worked out from: the different ones, in their natural order.
    wanted : float
        In the product's unit; NaN where no rate was known.
    limited, given : Fraction
        In the product's unit, exactly: after limits and steps, and after joining small parts.
    why : str
        What changed the rate; empty where nothing did.
    geodesic_area_m2, grid_area_m2 : float
    amount_wanted, amount_limited, amount_given : float
        Rate times geodesic area times the product's share of the width, in the product's amount unit: as wanted,
        after limits and steps, and after joining small parts.
    """

    zone: str
    inputs: tuple[str, ...]
    wanted: float
    limited: Fraction
    given: Fraction
    why: str
    geodesic_area_m2: float
    grid_area_m2: float
    amount_wanted: float
    amount_limited: float
    amount_given: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductLedger:
    """One product: its rows, and totals that are their sums.

    ``total_wanted + changed_by_limits + changed_by_joining = total_given``, in ``total_unit``.

    Attributes
    ----------
    row_of : tuple of int
        For each piece of the zone map the row that it is accounted for in; -1 where the product may not go.
    order : Order
        What to have for the pass, overlap and whole packages included, and what it costs; no total holds any of it.
    loads : Loads or None
        Fills of the machine's boxes; None where no box carries the product.
    overlays : tuple of OverlayEffect
        What each overlay covers and changes; ``total_wanted`` holds their changes.
    share : Fraction
        Share of the width that carries it, among drives of its form; areas of rows and totals are those of the
        field, and all amounts are of this share.
    """

    product: str
    unit: str
    total_unit: str
    rows: tuple[LedgerRow, ...]
    row_of: tuple[int, ...]
    geodesic_area_m2: float
    grid_area_m2: float
    keep_out_area_m2: float
    total_wanted: float
    changed_by_limits: float
    changed_by_joining: float
    total_given: float
    to_buy: tuple[tuple[str, float], ...]
    order: Order
    loads: Loads | None = None
    overlays: tuple[OverlayEffect, ...] = ()
    share: Fraction = Fraction(1)

    @property
    def product_area_m2(self) -> float:
        """What it gets of ``geodesic_area_m2``: its share of the width."""
        return self.geodesic_area_m2 * float(self.share)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """A field: its areas, and one ledger a product.

    ``geodesic_area_m2`` and ``grid_area_m2`` are the boundary less the ground on which no product may go:
    keep-outs, and ``rest_area_m2``, what lies beside the part that is treated.
    """

    field: str
    boundary_area_m2: float
    keep_out_area_m2: float
    geodesic_area_m2: float
    grid_area_m2: float
    grid_crs: str
    products: tuple[ProductLedger, ...]
    rest_area_m2: float = 0.0
