"""What a command prints with ``--json``: plain values, ready for a JSON writer."""

from __future__ import annotations

from collections.abc import Iterable
from math import isnan
from pathlib import Path

import shapely

from vrx.errors import VrxError
from vrx.model.build import Build, WrittenFile
from vrx.model.finding import Finding
from vrx.model.ledger import LedgerRow, ProductLedger
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
            "geodesic_area_m2": ledger.geodesic_area_m2,
            "grid_area_m2": ledger.grid_area_m2,
            "grid_crs": ledger.grid_crs,
        },
        "products": [
            _product(product, account) for product, account in zip(build.plan.rated, ledger.products, strict=True)
        ],
        "files": files_json(build.files, folder),
        "findings": [finding_json(finding) for finding in build.findings],
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
        "total_wanted": account.total_wanted,
        "changed_by_limits": account.changed_by_limits,
        "changed_by_joining": account.changed_by_joining,
        "total_given": account.total_given,
        "total_unit": account.total_unit,
        "to_buy": [{"amount": amount, "unit": unit} for unit, amount in account.to_buy],
        "zones": [_zone(row) for row in account.rows],
    }


def _zone(row: LedgerRow) -> dict[str, object]:
    return {
        "zone": row.zone,
        "wanted": None if isnan(row.wanted) else row.wanted,
        "given": float(row.given),
        "why": row.why,
        "geodesic_area_m2": row.geodesic_area_m2,
        "grid_area_m2": row.grid_area_m2,
    }
