"""What a build came to."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from vrx.model.change import Change
from vrx.model.content import Content
from vrx.model.finding import Finding
from vrx.model.ledger import Ledger
from vrx.model.prescription import Prescription

if TYPE_CHECKING:
    from vrx.model.plan import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenFile:
    """A file of a bundle.

    Attributes
    ----------
    path : str
        Within the bundle, with ``/``.
    format : str
        ``shapefile``, ``geojson`` or ``geopackage``; ``shapefile part`` for the files that belong to a ``.shp``;
        ``csv``, ``html``, ``png``, ``svg``, ``pdf`` and ``report content`` for the papers.
    sha256 : str
        In hexadecimal.
    """

    path: str
    format: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """A prescription, its ledger, and the bundle that was written.

    Attributes
    ----------
    bundle : Path or None
        The folder that was written; None where a ``stop`` was found.
    stopped_report : Path or None
        The report of a stopped build, if it could be written.
    findings : tuple of Finding
        The worst first.
    content : Content
        What people read about it.
    changes : tuple of Change
        What was changed in the plan for this build alone.
    """

    plan: Plan
    prescription: Prescription
    ledger: Ledger
    bundle: Path | None
    files: tuple[WrittenFile, ...]
    findings: tuple[Finding, ...]
    content: Content
    stopped_report: Path | None = None
    changes: tuple[Change, ...] = ()

    @property
    def stopped(self) -> bool:
        """True where a finding forbids the machine files."""
        return any(finding.severity == "stop" for finding in self.findings)
