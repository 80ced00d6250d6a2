from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest
import shapely
import support_cases as cases

from vrx.errors import InputError
from vrx.inputs.read import read_layer


def zipped(path: Path, members: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return path


SQUARE = json.dumps(cases.polygon(cases.zone_ring("A"))).encode()


def test_a_shapefile_of_a_nested_zip_stays_in_it(tmp_path: Path) -> None:
    """The one real layer is found among folders and ghosts, and nothing is unpacked."""
    path = cases.write_nested_zip(tmp_path)
    assert read_layer(path).columns["ZONE"].cells == ("A", "B", "C")
    assert list(tmp_path.iterdir()) == [path]


def test_other_formats_in_a_zip(tmp_path: Path) -> None:
    """GeoJSON and GeoPackage are read from a zip too; a .json beside a layer is not taken for one."""
    gpkg = cases.write_web_mercator(tmp_path / "x").read_bytes()
    assert len(read_layer(zipped(tmp_path / "a.zip", {"z.gpkg": gpkg, "about.json": b"{}"})).shapes) == 3
    assert len(read_layer(zipped(tmp_path / "b.zip", {"z.geojson": SQUARE})).shapes) == 1
    assert len(read_layer(zipped(tmp_path / "c.zip", {"z.JSON": SQUARE})).shapes) == 1


def test_several_layers_are_listed_and_one_can_be_named(tmp_path: Path) -> None:
    """With more than one real layer a person has to say which."""
    path = zipped(tmp_path / "z.zip", {"in/soil.geojson": SQUARE, "in/yield.geojson": SQUARE})
    with pytest.raises(InputError, match=r"several layers: 'in/soil\.geojson', 'in/yield\.geojson'.*Name one"):
        read_layer(path)
    assert isinstance(read_layer(path, layer="Soil").shapes[0], shapely.Polygon)
    with pytest.raises(InputError, match="named 'roads'"):
        read_layer(path, layer="roads")


@pytest.mark.parametrize(
    ("members", "words"),
    [
        pytest.param({}, "No layer is in it", id="empty"),
        pytest.param({"__MACOSX/._z.shp": b"ghost", "read me.txt": b"text"}, "No layer is in it", id="ghosts only"),
        pytest.param({"../z.geojson": SQUARE}, "leads outside", id="climbs out"),
        pytest.param({"/etc/z.geojson": SQUARE}, "leads outside", id="from the root"),
        pytest.param({"C:\\z.geojson": SQUARE}, "leads outside", id="a drive"),
        pytest.param({"z.geojson": b" " * 2**26}, "Unpacked it would take 67 MB", id="packed a thousandfold"),
    ],
)
def test_zips_that_are_not_read(tmp_path: Path, members: dict[str, bytes], words: str) -> None:
    """Nothing real in it, a name that climbs, or a bomb."""
    with pytest.raises(InputError, match=words):
        read_layer(zipped(tmp_path / "z.zip", members))


def test_a_locked_zip_is_refused(tmp_path: Path) -> None:
    """A password is named as the reason."""
    path = zipped(tmp_path / "z.zip", {"z.geojson": SQUARE})
    data = bytearray(path.read_bytes())
    data[6] |= 1
    data[data.rindex(b"PK\x01\x02") + 8] |= 1
    path.write_bytes(bytes(data))
    with pytest.raises(InputError, match="password"):
        read_layer(path)


def test_too_many_members_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A zip of tens of thousands of files is no map."""
    monkeypatch.setattr("vrx.inputs.archives.MOST_MEMBERS", 2)
    path = zipped(tmp_path / "z.zip", {f"{at}.geojson": SQUARE for at in range(3)})
    with pytest.raises(InputError, match="3 files"):
        read_layer(path)


def test_what_is_no_zip_is_refused(tmp_path: Path) -> None:
    """A file that only has the name of one."""
    path = tmp_path / "z.zip"
    path.write_bytes(b"PK but nothing else")
    with pytest.raises(InputError, match="damaged"):
        read_layer(path)


def test_layers_within_a_file_of_a_zip_can_be_named(tmp_path: Path) -> None:
    """A GeoPackage of two layers beside another file: all three are listed, and each can be named."""
    wkb = shapely.box(500_000, 4_000_000, 500_100, 4_000_100).wkb
    layers = {name: [(wkb, name, 1.0)] for name in ("soil", "pond")}
    gpkg = cases.write_geopackage(tmp_path / "x.gpkg", layers, srs=32614).read_bytes()
    path = zipped(tmp_path / "z.zip", {"in/farm.gpkg": gpkg, "in/yield.geojson": SQUARE})
    with pytest.raises(InputError, match=r"'in/farm.gpkg/pond', 'in/farm.gpkg/soil', 'in/yield\.geojson'.*Name one"):
        read_layer(path)
    for name in ("soil", "Pond", "farm.gpkg/pond", "in/farm.gpkg/soil"):
        assert read_layer(path, layer=name).columns["zone"].cells == (name.rpartition("/")[2].lower(),)
    assert len(read_layer(path, layer="yield").columns) == 0
    with pytest.raises(InputError, match=r"several layers: 'pond', 'soil'"):
        read_layer(path, layer="farm")
    alone = zipped(tmp_path / "y.zip", {"farm.gpkg": gpkg})
    assert read_layer(alone, layer="farm.gpkg/soil").columns["zone"].cells == ("soil",)


def test_two_layers_of_one_name_are_told_apart_by_their_place(tmp_path: Path) -> None:
    """A name that fits twice is said to, and the path settles it."""
    path = zipped(tmp_path / "z.zip", {"2030/soil.geojson": SQUARE, "2031/soil.geojson": SQUARE})
    with pytest.raises(InputError, match=r"Several layers in it are named 'soil'; it holds '2030/soil\.geojson'"):
        read_layer(path, layer="soil")
    assert len(read_layer(path, layer="2031/soil.geojson").shapes) == 1
