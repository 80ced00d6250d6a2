"""What a command prints with ``--json``: plain values, ready for a JSON writer."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from math import isnan
from pathlib import Path

import shapely

from vrx.errors import VrxError
from vrx.model.build import Build, WrittenFile
from vrx.model.finding import Finding
from vrx.model.ledger import LedgerRow, ProductLedger
from vrx.model.loads import Loads
from vrx.model.order import Order
from vrx.model.price import package_text
from vrx.model.product import Product


def build_json(build: Build) -> dict[str, object]:
    """Return a build: field, products with their zones, files and findings. Rates are in the product's unit."""
    ledger = build.ledger
    folder = build.bundle.resolve() if build.bundle else None
    return {
        "bundle": str(folder) if folder else None,
        "field": {
            "name": ledger.field,
            "boundary_area_m2": ledger.boundary_area_m2,
            "keep_out_area_m2": ledger.keep_out_area_m2,
            "outside_the_part_m2": ledger.rest_area_m2,
            "geodesic_area_m2": ledger.geodesic_area_m2,
            "grid_area_m2": ledger.grid_area_m2,
            "grid_crs": ledger.grid_crs,
        },
        "products": [
            _product(product, account) for product, account in zip(build.plan.rated, ledger.products, strict=True)
        ],
        "files": files_json(build.files, folder),
        "findings": [finding_json(finding) for finding in build.findings],
        "changes": [{"option": one.option, "said": one.said, "text": one.text} for one in build.changes],
        "stopped_report": str(build.stopped_report.resolve()) if build.stopped_report else None,
    }


def files_json(files: Iterable[WrittenFile], folder: Path | None) -> list[dict[str, str]]:
    """Return files with their whole paths."""
    return [
        {"path": str(folder / one.path) if folder else one.path, "format": one.format, "sha256": one.sha256}
        for one in files
    ]


def finding_json(finding: Finding) -> dict[str, object]:
    """Return a finding; ``where`` is a GeoJSON geometry in WGS 84, or None."""
    found: dict[str, object] = {
        "id": finding.id,
        "severity": finding.severity,
        "message": finding.message,
        "remedy": finding.remedy,
        "area_m2": finding.area_m2,
        "where": None if finding.where is None else shapely.geometry.mapping(finding.where),
    }
    extra = {"product": finding.product, "zone": finding.zone, "features": list(finding.features)}
    return found | {key: value for key, value in extra.items() if value}


def errors_json(errors: Iterable[VrxError]) -> dict[str, object]:
    """Return what kept a command from its work."""
    return {"errors": [{"problem": one.problem, "remedy": one.remedy, "where": one.where} for one in errors]}


def _product(product: Product, account: ProductLedger) -> dict[str, object]:
    return {
        "name": product.name,
        "unit": account.unit,
        "min": float(product.lowest),
        "max": float(product.highest),
        "step": float(product.step.value),
        "step_from": product.step_from,
        "off_allowed": product.off_allowed,
        "geodesic_area_m2": account.geodesic_area_m2,
        "grid_area_m2": account.grid_area_m2,
        "keep_out_area_m2": account.keep_out_area_m2,
        "share_of_width": float(account.share),
        "product_area_m2": account.product_area_m2,
        "total_wanted": account.total_wanted,
        "changed_by_limits": account.changed_by_limits,
        "changed_by_joining": account.changed_by_joining,
        "total_given": account.total_given,
        "total_unit": account.total_unit,
        "to_buy": [{"amount": amount, "unit": unit} for unit, amount in account.to_buy],
        "overlays": [
            {"name": one.name, "what": one.what, "geodesic_area_m2": one.area_m2, "amount": one.amount}
            for one in account.overlays
        ],
        "order": _order(account.order),
        "loads": None if account.loads is None else _loads(account.loads),
        "zones": [_zone(row, account.order) for row in account.rows],
    }


def _order(order: Order) -> dict[str, object]:
    price = order.price
    return {
        "prescribed": float(order.prescribed),
        "overlap_share": float(order.overlap_share),
        "overlap": float(order.overlap),
        "package": None if order.package is None else package_text(order.package),
        "packages": order.packages if order.package is not None else None,
        "to_order": float(order.to_order),
        "unit": order.unit,
        "price": None if price is None else str(price),
        "price_of_one": None if order.each is None else float(order.each),
        "currency": None if price is None else price.currency,
        "cost_prescribed": _money(order, order.prescribed),
        "cost_overlap": _money(order, order.overlap),
        "cost": _money(order, order.to_order),
    }


def _money(order: Order, amount: Fraction | float) -> float | None:
    cost = order.cost(amount)
    return None if cost is None else float(cost)


def _loads(loads: Loads) -> dict[str, object]:
    return {
        "unit": loads.unit,
        "needed": float(loads.needed),
        "whole": loads.whole,
        "each": float(loads.each),
        "last": float(loads.last),
        "share_by": "width of the drives" if loads.by_width else "equal",
        "boxes": [
            {
                "drives": list(box.drives),
                "full": float(box.full),
                "limited_by_weight": box.by_weight,
                "keep_back": float(box.keep_back),
                "share": float(box.share),
                "empty_first": at in loads.first_empty,
            }
            for at, box in enumerate(loads.boxes)
        ],
        "fills": [
            {
                "first": fill.first,
                "last": fill.last,
                "puts_out": float(fill.amount),
                "fill_to": [float(box.fill_to(fill.amount)) for box in loads.boxes],
                "covers_m2": loads.area_m2(fill.amount),
            }
            for fill in loads.fills
        ],
    }


def _zone(row: LedgerRow, order: Order) -> dict[str, object]:
    return {
        "zone": row.zone,
        "wanted": None if isnan(row.wanted) else row.wanted,
        "given": float(row.given),
        "why": row.why,
        "amount_wanted": row.amount_wanted,
        "amount_given": row.amount_given,
        "cost": _money(order, row.amount_given),
        "geodesic_area_m2": row.geodesic_area_m2,
        "grid_area_m2": row.grid_area_m2,
    }
