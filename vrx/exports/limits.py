"""What a receiver can't load: too many polygons or vertices, names, and rates that do not fit their column."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vrx.geo.crs import WGS84, move_shapes
from vrx.model.finding import Finding
from vrx.model.loadable import COLUMN_LENGTH, plain_stem, reserved_stem
from vrx.model.sheet import RateColumn, Sheet

if TYPE_CHECKING:
    from vrx.model.receiver import Receiver

MOST_DIGITS: Final = 15  # a number of 15 digits comes through any reader that takes it for a double
GEOPACKAGE_COLUMNS: Final = frozenset({"fid", "geom"})  # number and shape of a record


def receiver_findings(sheet: Sheet, receiver: Receiver) -> list[Finding]:
    """List what keeps a receiver from loading a sheet; empty where nothing does.

    Every finding is a ``stop``: ``too-many-features``, ``too-many-vertices``, ``name-not-loadable``,
    ``rate-too-wide``. Vertices are counted as they are written, holes and closing points included.
    """
    found = [_too_many_features(sheet, receiver), _too_many_vertices(sheet, receiver), _bad_file_name(sheet, receiver)]
    found += [_bad_column_name(sheet, column, receiver) for column in sheet.columns]
    found += [number_fits(column, receiver.rate_width, receiver.rate_decimals) for column in sheet.columns]
    return [finding for finding in found if finding]


def number_fits(column: RateColumn, width: int | None, decimals: int | None) -> Finding | None:
    """Tell whether every rate of a column can be written whole.

    Parameters
    ----------
    column : RateColumn
    width : int, optional
        Characters that the receiver's column holds, sign and point included; no limit where None.
    decimals : int, optional
        Decimals that it holds; no limit where None.

    Returns
    -------
    Finding or None
        A ``rate-too-wide`` stop that names the widest rate, the width it needs and the width there is.
    """
    if not len(column.counts):
        return None
    texts = [column.rate_text(at) for at in range(len(column.counts))]
    widest = max(texts, key=len)
    rate = f"Rate {widest} {column.unit} of {column.product}"
    if len(str(max(abs(int(column.counts.min())), abs(int(column.counts.max()))))) > MOST_DIGITS:
        message = f"{rate} has more than {MOST_DIGITS} digits: its width is more than readers keep."
        bad = [at for at, text in enumerate(texts) if len(text.lstrip("-").replace(".", "")) > MOST_DIGITS]
    elif width is not None and len(widest) > width:
        message = (
            f"{rate} needs a width of {len(widest)}, and the receiver's column {column.name} has a width of {width}."
        )
        bad = [at for at, text in enumerate(texts) if len(text) > width]
    elif decimals is not None and column.decimals > decimals:
        message = (
            f"{rate} needs {column.decimals} decimal{'s' if column.decimals > 1 else ''}, "
            f"and the receiver's column {column.name} holds {decimals} "
            f"(width {'free' if width is None else width})."
        )
        bad = list(range(len(texts)))
    else:
        return None
    return Finding(
        id="rate-too-wide",
        severity="stop",
        message=message,
        remedy="Widen rate_width or rate_decimals of [receiver] if it holds more, or write the rates in another unit.",
        features=tuple(at + 1 for at in bad),
        product=column.product,
    )


def loadable_column(name: str) -> bool:
    """Tell whether a column name is at most ten plain characters, a letter first."""
    return len(name) <= COLUMN_LENGTH and re.fullmatch(r"[A-Za-z][A-Za-z0-9_]*", name) is not None


def _too_many_features(sheet: Sheet, receiver: Receiver) -> Finding | None:
    if len(sheet.shapes) <= receiver.most_features:
        return None
    return Finding(
        id="too-many-features",
        severity="stop",
        message=f"{sheet.name} has {len(sheet.shapes)} polygons, and the receiver loads {receiver.most_features}.",
        remedy="Use fewer or larger zones, raise smallest_area, or correct most_features of [receiver].",
    )


def _too_many_vertices(sheet: Sheet, receiver: Receiver) -> Finding | None:
    counts = shapely.get_num_coordinates(sheet.shapes)
    over = np.flatnonzero(counts > receiver.most_vertices)
    if not len(over):
        return None
    records = ", ".join(str(at + 1) for at in over[:5]) + (" ..." if len(over) > 5 else "")
    which = f"Polygon {records} of" if len(over) == 1 else f"{len(over)} polygons ({records}) of"
    return Finding(
        id="too-many-vertices",
        severity="stop",
        message=(
            f"{which} {sheet.name}: up to {int(counts.max())} vertices, and the receiver loads "
            f"{receiver.most_vertices} a polygon."
        ),
        # Inner borders are simplified before a sheet is laid out: what is left over is the outline, or too much.
        remedy="Divide the zone, or draw boundary and keep-outs with fewer vertices: only borders between zones are "
        "simplified unasked. Correct most_vertices of [receiver] if it loads more.",
        where=_on_wgs84(sheet, over),
        features=tuple(int(at) + 1 for at in over),
    )


def _on_wgs84(sheet: Sheet, which: np.ndarray[tuple[int], np.dtype[np.intp]]) -> BaseGeometry:
    shapes = sheet.shapes[which]
    return shapely.multipolygons(list(shapes if sheet.crs == WGS84 else move_shapes(shapes, sheet.crs, WGS84)))


def _bad_file_name(sheet: Sheet, receiver: Receiver) -> Finding | None:
    name = sheet.name
    if len(name) > receiver.name_length:
        problem = f"has {len(name)} characters, and the receiver loads {receiver.name_length}"
    elif not plain_stem(name):
        problem = "has other characters than plain letters, digits, - and _"
    elif reserved_stem(name):
        problem = "is kept by Windows for a device"
    else:
        return None
    return Finding(
        id="name-not-loadable",
        severity="stop",
        message=f"File name {name!r} {problem}.",
        remedy="Give the field or product a plainer name, or correct name_length of [receiver].",
    )


def _bad_column_name(sheet: Sheet, column: RateColumn, receiver: Receiver) -> Finding | None:
    names = [each.name.lower() for each in sheet.columns]
    if "shapefile" in receiver.formats and not loadable_column(column.name):
        problem = f"is not at most {COLUMN_LENGTH} plain letters, digits and _ with a letter first"
    elif "geopackage" in receiver.formats and column.name.lower() in GEOPACKAGE_COLUMNS:
        problem = "is one that every GeoPackage has already"
    elif not column.name:
        problem = "is empty"
    elif names.count(column.name.lower()) > 1:
        problem = "stands twice in the file"
    else:
        return None
    return Finding(
        id="name-not-loadable",
        severity="stop",
        message=f"Column name {column.name!r} {problem}.",
        remedy="Give another rate_column in [receiver].",
        product=column.product,
    )
