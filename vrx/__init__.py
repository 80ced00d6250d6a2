"""Prescription maps for variable-rate zones: built, checked and accounted for.

The public names are those of ``__all__``; each is loaded when it is first asked for, so that ``import vrx``
costs nothing.
"""

from __future__ import annotations

from importlib import import_module

_HOME = {
    "Build": "vrx.model.build",
    "Check": "vrx.model.check",
    "Finding": "vrx.model.finding",
    "Ledger": "vrx.model.ledger",
    "Plan": "vrx.model.plan",
    "Product": "vrx.model.product",
    "Readiness": "vrx.model.readiness",
    "VrxError": "vrx.errors",
    "build": "vrx.runs.build",
    "bundle_of": "vrx.runs.build",
    "check": "vrx.runs.check",
    "deliver": "vrx.runs.build",
    "make_sheets": "vrx.exports.sheets",
    "prepare": "vrx.runs.build",
    "read_job": "vrx.runs.job",
    "ready": "vrx.runs.ready",
    "read_plan": "vrx.inputs.plan_file",
    "to_geodataframe": "vrx.runs.frames",
    "work_out": "vrx.runs.build",
}

__version__ = "0.1.0"
__all__ = sorted([*_HOME, "__version__"])  # noqa: PLE0605 - the names stand in one place, _HOME


def __getattr__(name: str) -> object:
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'vrx' has no attribute {name!r}")


def __dir__() -> list[str]:
    return __all__
