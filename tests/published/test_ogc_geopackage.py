"""Written GeoPackages against OGC 12-128 (GeoPackage Encoding Standard).

Numbers and tables are known from conformance-test texts and sample files, not from the standard's pages.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from support_sheets import HOLED, sheet_of

from vrx.exports.geopackage import write_geopackage

pytestmark = pytest.mark.source("OGC12-128", "clauses 1.1.1 to 1.1.3 and 2.1, annex C")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return write_geopackage(sheet_of([HOLED]), tmp_path)[0]


@pytest.fixture
def database(path: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(path)) as connection:
        yield connection


def test_the_file_says_that_it_is_a_geopackage(path: Path, database: sqlite3.Connection) -> None:
    """application_id is 0x47504B47, GPKG, also in the header at byte 68; user_version is of 1.2 or later."""
    assert database.execute("PRAGMA application_id").fetchone() == (0x47504B47,)
    assert path.read_bytes()[68:72] == b"GPKG"
    assert database.execute("PRAGMA user_version").fetchone()[0] in (10200, 10300, 10400)


def test_the_tables_of_a_feature_layer_are_there(database: sqlite3.Connection) -> None:
    """Reference systems, contents and geometry columns, with the rows -1, 0 and 4326."""
    tables = {name for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    assert {"gpkg_spatial_ref_sys", "gpkg_contents", "gpkg_geometry_columns"} <= tables
    assert {-1, 0, 4326} <= {code for (code,) in database.execute("SELECT srs_id FROM gpkg_spatial_ref_sys")}
    name = sheet_of().name
    assert database.execute("SELECT table_name, data_type, srs_id FROM gpkg_contents").fetchall() == [
        (name, "features", 4326)
    ]
    assert database.execute(
        "SELECT table_name, geometry_type_name, srs_id, z, m FROM gpkg_geometry_columns"
    ).fetchall() == [(name, "POLYGON", 4326, 0, 0)]


def test_a_geometry_has_the_standard_header(database: sqlite3.Connection) -> None:
    """GP, version 0, then the reference system's number in the byte order that the flags say."""
    (blob,) = database.execute(f'SELECT geom FROM "{sheet_of().name}"').fetchone()
    assert blob[:3] == b"GP\x00"
    assert int.from_bytes(blob[4:8], "little" if blob[3] & 1 else "big") == 4326
