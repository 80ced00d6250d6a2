"""What all tests share."""

from __future__ import annotations

from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="session")
def shared() -> Path:
    """The folder of reference cases and open data beside the project; skips where it is absent."""
    folder = ROOT.parent / "shared"
    if not (folder / "cases").is_dir():
        pytest.skip("the folder of reference cases and open data is not beside the project")
    return folder


@pytest.fixture(scope="session")
def sample_fields() -> Path:
    return ROOT / "sample_fields"
