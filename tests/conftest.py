"""What all tests share."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

# A busy computer takes longer than the 200 ms an example has unless said: that is no fault of what is tested.
settings.register_profile("patient", deadline=None)
settings.load_profile("patient")

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
