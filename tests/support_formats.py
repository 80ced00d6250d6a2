"""The zones of Burr Oak Bench in other formats, written by libraries that the readers share no code with."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import shapely
from support_cases import AREA_HA, FRAME, RATES, UTM, Ring, moved, zone_ring


def zone_shapes(crs: str = UTM) -> np.ndarray[Any, Any]:
    return np.array([shapely.Polygon(moved(zone_ring(zone), crs)) for zone in AREA_HA], dtype=object)


def write_with_gdal(path: Path, shapes: Any, columns: dict[str, Any], *, crs: str | None = UTM, **more: Any) -> Path:
    """Write a layer with GDAL; columns are arrays, or pairs of an array and a mask of the cells that are empty."""
    path.parent.mkdir(parents=True, exist_ok=True)
    pairs = [column if isinstance(column, tuple) else (column, None) for column in columns.values()]
    pyogrio.raw.write(
        path,
        shapely.to_wkb(shapes),
        [values for values, _ in pairs],
        list(columns),
        field_mask=[mask for _, mask in pairs],
        crs=crs,
        geometry_type=more.pop("geometry_type", "Polygon"),
        **more,
    )
    return path


def zone_columns() -> dict[str, Any]:
    return {"zone": np.array(list(RATES), dtype=object), "rate": np.array(list(RATES.values()), dtype=np.float64)}


def write_flatgeobuf(folder: Path) -> Path:
    return write_with_gdal(folder / "bench.fgb", zone_shapes(), zone_columns(), driver="FlatGeobuf")


def write_flatgeobuf_without_index(folder: Path) -> Path:
    path = folder / "plain.fgb"
    return write_with_gdal(path, zone_shapes(), zone_columns(), driver="FlatGeobuf", SPATIAL_INDEX="NO")


def kml_ring(ring: Ring, height: str = ",0") -> str:
    positions = " ".join(f"{x:.12f},{y:.12f}{height}" for x, y in moved(ring, "EPSG:4326"))
    return f"<LinearRing><coordinates>{positions}</coordinates></LinearRing>"


def kml_polygon(*rings: Ring) -> str:
    outer, *inner = (kml_ring(ring) for ring in rings)
    holes = "".join(f"<innerBoundaryIs>{ring}</innerBoundaryIs>" for ring in inner)
    return f"<Polygon><outerBoundaryIs>{outer}</outerBoundaryIs>{holes}</Polygon>"


def kml(body: str, *, head: str = '<?xml version="1.0" encoding="UTF-8"?>') -> bytes:
    return f'{head}<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{body}</Document></kml>'.encode()


def kml_zones() -> bytes:
    """Zones in two folders, one within the other; their rates in extended data of a schema."""
    schema = (
        '<Schema name="soil" id="soil"><SimpleField type="string" name="zone"/>'
        '<SimpleField type="double" name="rate"/></Schema>'
    )
    marks = [
        f"<Placemark><name>{zone}</name>{kml_polygon(zone_ring(zone))}"
        f'<ExtendedData><SchemaData schemaUrl="#soil"><SimpleData name="zone">{zone}</SimpleData>'
        f'<SimpleData name="rate">{rate}</SimpleData></SchemaData></ExtendedData></Placemark>'
        for zone, rate in RATES.items()
    ]
    inner = f"<Folder><name>East</name>{''.join(marks[1:])}</Folder>"
    return kml(f"<name>Bench</name>{schema}<Folder><name>Soil</name>{marks[0]}{inner}</Folder>")


def write_kml(folder: Path) -> Path:
    path = folder / "bench.kml"
    path.write_bytes(kml_zones())
    return path


def write_kmz(folder: Path, *, compression: int = zipfile.ZIP_DEFLATED) -> Path:
    path = folder / "bench.kmz"
    with zipfile.ZipFile(path, "w", compression) as archive:
        archive.writestr("doc.kml", kml_zones())
        archive.writestr("files/pin.png", b"a picture")
    return path


def write_parquet(folder: Path) -> Path:
    import geopandas

    path = folder / "bench.parquet"
    geopandas.GeoDataFrame(zone_columns(), geometry=zone_shapes(), crs=UTM).to_parquet(path)
    return path


def write_plain_parquet(folder: Path) -> Path:
    """Without the copy of its schema that most bytes of a small file are, so that damage reaches the rest."""
    import pyarrow.parquet

    table = pyarrow.parquet.read_table(write_parquet(folder))
    path = folder / "plain.parquet"
    pyarrow.parquet.write_table(table, path, store_schema=False, compression="none")
    return path


# Cells of 10 m, the first at the north-western corner of the field: A is 18, B and C are 12 cells wide.
NORTH_UP = (10.0, 0.0, -210.0, 0.0, -10.0, 250.0)


def raster_of_rates() -> np.ndarray[Any, Any]:
    return np.repeat([list(RATES.values())], 25, axis=0).repeat([18, 12, 12], axis=1).astype(np.float32)


def write_raster(
    path: Path, bands: Any, *, place: tuple[float, ...] = NORTH_UP, crs: str | None = FRAME, **more: Any
) -> Path:
    """Write bands, shape (rows, columns) or (bands, rows, columns), as a GeoTIFF."""
    import rasterio

    bands = np.asarray(bands)
    bands = bands[None] if bands.ndim == 2 else bands
    count, height, width = bands.shape
    about = {"driver": "GTiff", "count": count, "height": height, "width": width, "dtype": bands.dtype}
    with rasterio.open(path, "w", crs=crs, transform=rasterio.Affine(*place), **(about | more)) as raster:
        raster.write(bands)
    return path


def write_raster_of_rates(folder: Path) -> Path:
    return write_raster(folder / "rates.tif", raster_of_rates(), nodata=-1.0)


def write_packed_raster(folder: Path) -> Path:
    return write_raster(
        folder / "rates.tiff", raster_of_rates(), compress="deflate", tiled=True, blockxsize=16, blockysize=16
    )
