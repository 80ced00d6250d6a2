"""Fields that the benchmarks share, made once."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest

MAKE_FIELD = Path(__file__).with_name("make_field.py")


@pytest.fixture(scope="session")
def bench_field(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The field of 160 acres and 2,000 polygons."""
    folder = tmp_path_factory.mktemp("bench_field")
    runpy.run_path(str(MAKE_FIELD))["make_field"](folder, polygons=2000)
    return folder


@pytest.fixture(scope="session")
def small_field(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same field with so many polygons that about 500 of them lie in it."""
    folder = tmp_path_factory.mktemp("small_field")
    runpy.run_path(str(MAKE_FIELD))["make_field"](folder, polygons=750)
    return folder
