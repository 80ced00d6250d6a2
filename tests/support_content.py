"""Contents of reports for tests: of the sample fields, and of fields drawn as text."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from support_zone_maps import build_of, plan_of, prescription_of

from vrx.model.content import Content
from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap
from vrx.runs.build import build

SAMPLES = Path(__file__).parents[1] / "sample_fields"


@lru_cache(maxsize=8)
def sample_content(name: str) -> Content:
    """Build a sample field and return what people read of it, files and checksums included."""
    with TemporaryDirectory() as folder:
        copy = Path(folder) / name
        shutil.copytree(SAMPLES / name, copy)
        return build(copy / "plan.toml", pictures=True).content


def content_of(drawn: ZoneMap, *rated: tuple[Product, Mapping[str, float | None]], **plan: Any) -> Content:
    """Return the content of a field drawn as text, products with a rate for each zone."""
    made = plan_of(*(of for of, _ in rated), **plan)
    return build_of(made, prescription_of(drawn, made, *(rates for _, rates in rated))).content
