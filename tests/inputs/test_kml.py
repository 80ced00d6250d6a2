from __future__ import annotations

import time
import zipfile
from pathlib import Path
from typing import Any

import fiona
import numpy as np
import pyogrio
import pytest
import shapely
from fiona import drvsupport
from support_cases import AREA_HA, RATES, area_ha, rectangle, zone_ring
from support_formats import kml, kml_polygon, kml_ring, kml_zones, write_kml, write_kmz

from vrx.errors import InputError
from vrx.inputs.cells import read_numbers
from vrx.inputs.kml import read_kml
from vrx.inputs.read import read_layer
from vrx.model.layer import Layer

POINT = "<Point><coordinates>-96,40</coordinates></Point>"


def placed(body: str, name: str = "one") -> str:
    return f"<Placemark><name>{name}</name>{body}</Placemark>"


def shape_of(body: str) -> Any:
    (shape,) = read_kml(kml(placed(body)), source="z").shapes
    return shape


def zones(layer: Layer) -> dict[str, float]:
    cells = layer.columns["zone"].cells
    return {str(zone): area_ha(shape, layer.crs) for zone, shape in zip(cells, layer.shapes, strict=True)}


@pytest.mark.parametrize("write", [write_kml, write_kmz])
def test_every_folder_is_read(tmp_path: Path, write: Any) -> None:
    """Zones of both folders, with their folder's path, their rates as numbers, and their true areas."""
    layer = read_layer(write(tmp_path))
    assert list(layer.columns) == ["name", "folder", "zone", "rate"]
    assert layer.columns["name"].cells == ("A", "B", "C")
    assert layer.columns["folder"].cells == ("Bench/Soil", "Bench/Soil/East", "Bench/Soil/East")
    assert [layer.columns[name].kind for name in ("zone", "rate")] == ["text", "number"]
    assert read_numbers(layer.columns["rate"]).values.tolist() == list(RATES.values())
    assert zones(layer) == pytest.approx(AREA_HA, rel=1e-6)
    assert layer.crs == "EPSG:4326"
    assert layer.findings == ()


def test_one_folder_can_be_named(tmp_path: Path) -> None:
    """A folder by its name or its path, with the folders in it; a wrong name lists those there are."""
    path = write_kml(tmp_path)
    assert read_layer(path, layer="east").columns["name"].cells == ("B", "C")
    assert read_layer(path, layer="Bench/Soil").columns["name"].cells == ("A", "B", "C")
    assert read_layer(path, layer="bench.kml").columns["name"].cells == ("A", "B", "C")
    with pytest.raises(InputError, match="no folder 'West'; it has 'Bench', 'Bench/Soil', 'Bench/Soil/East'"):
        read_layer(path, layer="West")


def test_extended_data_of_every_kind() -> None:
    """Data with a value, elements of a namespace, cells that are empty or left out, a schema that disagrees."""
    said = [
        '<ExtendedData><Data name="zone"><displayName>Zone</displayName><value> 7 </value></Data></ExtendedData>',
        '<ExtendedData xmlns:f="http://farm.invalid"><f:note>wet &amp; low</f:note></ExtendedData>',
        '<ExtendedData><Data name="zone"><value/></Data><Data name="note"/></ExtendedData><description>d</description>',
    ]
    schemas = "".join(f'<Schema><SimpleField type="{kind}" name="zone"/></Schema>' for kind in ("int", "string"))
    columns = read_kml(kml(schemas + "".join(map(placed, said))), source="z").columns
    assert {name: column.cells for name, column in columns.items()} == {
        "name": ("one", "one", "one"),
        "description": (None, None, "d"),
        "zone": ("7", None, None),
        "note": (None, "wet & low", None),
    }
    assert columns["zone"].kind == "text"


def test_a_name_that_stands_for_two_things_is_kept_twice() -> None:
    """Extended data called name is a column of its own, and said, unless it only repeats the name."""
    body = '<ExtendedData><Data name="name"><value>{}</value></Data></ExtendedData>'
    same = read_kml(kml(placed(body.format("one"))), source="z")
    other = read_kml(kml(placed(body.format("two"))), source="z")
    assert (list(same.columns), same.findings) == (["name"], ())
    assert other.columns["name_2"].cells == ("two",)
    assert [finding.id for finding in other.findings] == ["column-names"]


@pytest.mark.parametrize(
    ("body", "wkt"),
    [
        pytest.param("<Point><coordinates>-96.5,40</coordinates></Point>", "POINT (-96.5 40)", id="point"),
        pytest.param(
            "<LineString><coordinates>\n-96,40,0\n\t-95,41,0\n</coordinates></LineString>",
            "LINESTRING (-96 40, -95 41)",
            id="line, over lines",
        ),
        pytest.param(
            "<LineString><coordinates>-96, 40, 0 -95 , 41 ,0</coordinates></LineString>",
            "LINESTRING (-96 40, -95 41)",
            id="spaces beside commas",
        ),
        pytest.param(
            "<MultiGeometry><Point><coordinates>1,2</coordinates></Point><Point><coordinates>3,4,</coordinates></Point>"
            "</MultiGeometry>",
            "MULTIPOINT ((1 2), (3 4))",
            id="points",
        ),
        pytest.param(
            '<gx:Track xmlns:gx="http://www.google.com/kml/ext/2.2"><when>t</when><gx:coord>1 2 0</gx:coord>'
            "<gx:coord>3 4 0</gx:coord></gx:Track>",
            "LINESTRING (1 2, 3 4)",
            id="track",
        ),
        pytest.param(
            "<Polygon><outerBoundaryIs><LinearRing><coordinates>0,0 9,0 9,9</coordinates></LinearRing>"
            "</outerBoundaryIs></Polygon>",
            "POLYGON ((0 0, 9 0, 9 9, 0 0))",
            id="a ring that is not closed",
        ),
    ],
)
def test_shapes_come_through(body: str, wkt: str) -> None:
    """Longitude first, whatever stands between the numbers."""
    assert shape_of(body).equals_exact(shapely.from_wkt(wkt))


def test_polygons_within_polygons() -> None:
    """Nested MultiGeometry is one zone of all its parts, holes cut out, and what is no polygon beside them stays."""
    field = kml_polygon(rectangle(-210, 0, 210, 250), rectangle(-20, 100, 20, 150), rectangle(50, 100, 60, 110))
    nested = f"<MultiGeometry><MultiGeometry>{field}</MultiGeometry>{kml_polygon(rectangle(300, 0, 310, 10))}"
    shape = shape_of(f"{nested}</MultiGeometry>")
    assert (shape.geom_type, len(shape.geoms)) == ("MultiPolygon", 2)
    assert area_ha(shape, "EPSG:4326") == pytest.approx(10.5 - 0.2 - 0.01 + 0.01, rel=1e-6)
    assert shape_of(f"{nested}{POINT}</MultiGeometry>").geom_type == "GeometryCollection"


def test_a_placemark_without_a_shape_has_none() -> None:
    """No geometry, an empty one and one without points: three records without a shape."""
    empty = (
        "<Polygon><outerBoundaryIs><LinearRing><coordinates> </coordinates></LinearRing></outerBoundaryIs></Polygon>"
    )
    raw = read_kml(kml(placed("") + placed("<MultiGeometry/>") + placed(empty)), source="z")
    assert list(raw.shapes) == [None, None, None]


def test_heights_are_noted_where_there_are_any() -> None:
    """Height 0 stands in most files and says nothing; another one is left out with a note."""
    ring = kml_ring(zone_ring("A"), ",312.5")
    raw = read_kml(kml(placed(f"<Polygon><outerBoundaryIs>{ring}</outerBoundaryIs></Polygon>")), source="z")
    assert [finding.id for finding in raw.findings] == ["has-z"]
    assert not shapely.has_z(raw.shapes[0])


def test_a_link_is_said_and_not_followed() -> None:
    """What a file only links to is not read, and a person should know."""
    raw = read_kml(kml("<NetworkLink><Link><href>http://farm.invalid/</href></Link></NetworkLink>"), source="z")
    assert [(finding.id, finding.severity) for finding in raw.findings] == [("kml-link", "caution")]


@pytest.mark.parametrize(
    ("position", "words"),
    [
        pytest.param("-96", "has the position '-96'", id="one number"),
        pytest.param("1,2,3,4", "has the position '1,2,3,4'", id="four"),
        pytest.param("-96,forty", "has the coordinate 'forty', which is no number", id="a word"),
        pytest.param("nan,40", "has the coordinate 'nan'", id="not a number"),
        pytest.param("1_0,40", "has the coordinate '1_0'", id="an underscore"),
        pytest.param(",40", "has the coordinate ''", id="nothing"),
    ],
)
def test_coordinates_that_are_none_are_named(position: str, words: str) -> None:
    """The Placemark by number and name, and what stands there."""
    body = f"<Point><coordinates>{position}</coordinates></Point>"
    with pytest.raises(InputError, match=f"Placemark 2 .a.nb. {words}"):
        read_kml(kml(placed(POINT) + placed(body, "a\nb")), source="z")


BOMB = "<!DOCTYPE kml [<!ENTITY a 'aaaaaaaaaa'>" + "".join(
    f"<!ENTITY {chr(98 + at)} '{f'&{chr(97 + at)};' * 10}'>" for at in range(9)
)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        pytest.param(kml("&j;", head=BOMB + "]>"), "document type or entities", id="a billion letters"),
        pytest.param(kml("", head="<!DOCTYPE kml>"), "document type", id="a document type"),
        pytest.param(
            kml("&x;", head='<!DOCTYPE kml [<!ENTITY x SYSTEM "file:///etc/passwd">]>'), "document type", id="a file"
        ),
        pytest.param(kml("<Folder>" * 100 + "</Folder>" * 100), "more than 60 deep", id="deep"),
        pytest.param(b"<Folder>" * 2_000_000, "more than 60 deep", id="deeper"),
        pytest.param(kml_zones()[:-20], "no sound XML", id="cut short"),
        pytest.param(b"", "no sound XML", id="empty"),
        pytest.param(b'<?xml version="1.0" encoding="no-such"?><kml/>', "no sound XML", id="no such encoding"),
        pytest.param(b'<?xml version="1.0" encoding="hex"?><kml/>', "no sound XML", id="no encoding of text"),
        pytest.param(b"<gpx/>", "begins with 'gpx'", id="other XML"),
        pytest.param(b'{"type": "FeatureCollection"}', "no sound XML", id="JSON"),
    ],
)
def test_what_is_no_kml_is_refused(data: bytes, words: str) -> None:
    """In a line, at once, and nothing is expanded or fetched."""
    start = time.monotonic()
    with pytest.raises(InputError, match=words) as caught:
        read_kml(data, source="z.kml")
    assert time.monotonic() - start < 2
    assert "\n" not in str(caught.value)


def test_a_kml_that_is_too_large_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """In bytes or in elements."""
    monkeypatch.setattr("vrx.inputs.kml._MOST_BYTES", 1000)
    with pytest.raises(InputError, match="MB are read at most"):
        read_kml(kml_zones(), source="z")
    monkeypatch.undo()
    monkeypatch.setattr("vrx.inputs.kml._MOST_ELEMENTS", 10)
    with pytest.raises(InputError, match="more than 10"):
        read_kml(kml_zones(), source="z")


def test_latin_letters_of_an_old_file() -> None:
    """The encoding that the file declares is the one it is read in."""
    text = kml(placed(POINT, "Señal"), head='<?xml version="1.0" encoding="windows-1252"?>').decode()
    assert read_kml(text.encode("cp1252"), source="z").columns["name"].cells == ("Señal",)


def test_which_kml_of_a_kmz(tmp_path: Path) -> None:
    """doc.kml, else the only one, else the only one outside its folders; more are refused, as is none."""

    def packed(*names: str) -> Path:
        with zipfile.ZipFile(tmp_path / "z.kmz", "w") as archive:
            for name in names:
                archive.writestr(name, kml(placed(POINT, name)))
            archive.writestr("pin.png", b"picture")
        return tmp_path / "z.kmz"

    for names, meant in (
        (("a.kml", "doc.kml"), "doc.kml"),
        (("in/a.kml",), "in/a.kml"),
        (("a.kml", "in/b.kml"), "a.kml"),
    ):
        assert read_layer(packed(*names)).columns["name"].cells == (meant,)
    with pytest.raises(InputError, match=r"several KML files: a\.kml, b\.kml"):
        read_layer(packed("a.kml", "b.kml"))
    with pytest.raises(InputError, match="No KML file is in it"):
        read_layer(packed())
    with pytest.raises(InputError, match="leads outside"):
        read_layer(packed("../doc.kml"))


def test_links_within_a_kmz_are_followed(tmp_path: Path) -> None:
    """A doc.kml that only links to the layers beside it holds them all, each once."""
    link = "<NetworkLink><name>{0}</name><Link><href>layers/{0}.kml</href></Link></NetworkLink>"
    with zipfile.ZipFile(tmp_path / "z.kmz", "w") as archive:
        archive.writestr("doc.kml", kml("".join(link.format(name) for name in ("a", "b", "a"))))
        for name in ("a", "b"):
            archive.writestr(f"layers/{name}.kml", kml(f"<name>in</name>{placed(POINT)}{link.format('a')}"))
    layer = read_layer(tmp_path / "z.kmz")
    assert layer.columns["folder"].cells == ("a/in", "b/in")
    assert [finding.id for finding in layer.findings] == ["kml-link"]


def test_a_kmz_within_a_zip(tmp_path: Path) -> None:
    """A zip that holds a KMZ is read, and one of its folders can be named."""
    with zipfile.ZipFile(tmp_path / "z.zip", "w") as archive:
        archive.write(write_kmz(tmp_path), "to send/bench.kmz")
    assert zones(read_layer(tmp_path / "z.zip")) == pytest.approx(AREA_HA, rel=1e-6)
    assert read_layer(tmp_path / "z.zip", layer="East").columns["name"].cells == ("B", "C")


def test_as_fiona_reads_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Folder by folder, names and shapes to the bit, as the KML driver of fiona's GDAL reads them."""
    monkeypatch.setitem(drvsupport.supported_drivers, "KML", "r")
    path = write_kml(tmp_path)
    ours = read_layer(path)
    theirs: dict[str, Any] = {}
    for name in fiona.listlayers(path):
        with fiona.open(path, layer=name) as rows:
            theirs |= {row.properties["Name"]: shapely.geometry.shape(row.geometry) for row in rows}
    assert sorted(theirs) == list(ours.columns["name"].cells)
    for name, shape in zip(ours.columns["name"].cells, ours.shapes, strict=True):
        assert shape.wkb == shapely.force_2d(theirs[str(name)]).wkb


@pytest.mark.parametrize("suffix", ["kml", "kmz"])
@pytest.mark.parametrize("name", ["fields_nl_cc0", "fields_usca_3d_cc0", "ws_treatment_blocks"])
def test_open_data_as_gdal_writes_and_reads_it(shared: Path, tmp_path: Path, name: str, suffix: str) -> None:
    """Open data written by another library: shapes to the bit and all numbers, as that library reads its own file."""
    meta, _, wkb, columns = pyogrio.raw.read(shared / "data" / f"{name}.gpkg")
    path = tmp_path / f"z.{suffix}"
    change = shapely.from_wkb(wkb)
    if "4326" not in meta["crs"]:
        import geopandas

        change = geopandas.GeoSeries(change, crs=meta["crs"]).to_crs(4326).to_numpy()
    pyogrio.raw.write(
        path, shapely.to_wkb(change), columns, meta["fields"], geometry_type="Unknown", crs="EPSG:4326", driver="LIBKML"
    )
    layer = read_layer(path)
    back, _, shapes, cells = pyogrio.raw.read(path)
    assert [one.wkb for one in layer.shapes] == [one.wkb for one in shapely.force_2d(shapely.from_wkb(shapes))]
    numbers = [at for at, kind in enumerate(back["dtypes"]) if np.dtype(kind).kind in "if"]
    numbers = [at for at in numbers if back["fields"][at] in meta["fields"]]  # it adds columns of its own
    for at in numbers:
        ours = read_numbers(layer.columns[back["fields"][at]]).values
        assert ours == pytest.approx(cells[at].astype(float), nan_ok=True)
    assert {
        field for field, kind in zip(meta["fields"], meta["dtypes"], strict=True) if np.dtype(kind).kind in "if"
    } <= {*layer.columns}
