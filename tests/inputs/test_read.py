from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
import support_cases as cases

from vrx.errors import InputError, NoCrsError, Problems
from vrx.inputs.read import read_layer, read_layers, read_table


def test_a_folder_with_one_layer_is_that_layer(tmp_path: Path) -> None:
    """A folder that holds a shapefile and its parts is read as the shapefile."""
    cases.write_plain(tmp_path / "in")
    assert read_layer(tmp_path / "in").columns["ZONE"].cells == ("A", "B", "C")


def test_a_folder_with_several_layers_is_listed(tmp_path: Path) -> None:
    """A person says which by its name."""
    cases.write_two_utm_zones(tmp_path)
    with pytest.raises(InputError, match=r"several layers: .*east\.shp.*west\.shp"):
        read_layer(tmp_path)
    assert read_layer(tmp_path, layer="west").columns["ZONE"].cells == ("West",)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        pytest.param("bench.SHP", "no such file.*'bench.shp'", id="another case"),
        pytest.param("bnech.shp", "no such file.*'bench.shp'", id="letters swapped"),
        pytest.param("bench.gpkg", "no such file.*'bench", id="another ending"),
        pytest.param("nothing/z.shp", "no folder", id="no such folder"),
        pytest.param("quite different.geojson", "Check the path", id="nothing like it"),
        pytest.param("bench.dbf", r"not read from \.dbf.*Name the \.shp", id="a part of a shapefile"),
        pytest.param("notes.docx", r"not read from \.docx.*GeoPackage", id="no layer"),
        pytest.param("bare", "a file without an ending", id="no ending"),
        pytest.param("z" * 300, "can't be looked at", id="a name that no file can have"),
    ],
)
def test_what_cannot_be_read_is_said_with_what_could_be(tmp_path: Path, name: str, words: str) -> None:
    """A missing file is named with one that is like it, a wrong one with what is accepted."""
    cases.write_plain(tmp_path)
    for other in ("notes.docx", "bare"):
        (tmp_path / other).write_text("x")
    with pytest.raises(InputError, match=words):
        read_layer(tmp_path / name)


def test_a_name_of_a_layer_that_a_file_does_not_have(tmp_path: Path) -> None:
    """A shapefile is one layer, called as it is."""
    path = cases.write_plain(tmp_path)
    assert len(read_layer(path, layer="bench").shapes) == 3
    with pytest.raises(InputError, match="no layer 'soil'"):
        read_layer(path, layer="soil")


def test_several_files_become_one_layer(tmp_path: Path) -> None:
    """Columns join by name, empty where a file lacks them; records and findings are renumbered in order."""
    first = cases.write_plain(tmp_path / "a")
    second = cases.write_deleted_record(tmp_path / "b")
    hole = cases.write_hole_wound_wrong(tmp_path / "c")
    (third,) = [cases.write_geojson(tmp_path / "d.geojson", [cases.feature(None, ZONE="D", note="x", RATE=7)])]
    layer = read_layers([first, second, hole, third])
    assert layer.source == "bench.shp + bench.shp + bench.shp + d.geojson"
    assert layer.columns["ZONE"].cells == ("A", "B", "C", "A", "B", "C", "A", "D")
    assert layer.columns["RATE"].kind == "number"
    assert layer.columns["RATE"].cells[-2:] == ("85.00", 7)
    assert layer.columns["note"].cells == (None,) * 7 + ("x",)
    assert layer.records.tolist() == list(range(1, 9))
    features = {finding.id: finding.features for finding in layer.findings}
    assert features == {"deleted-record": (), "hole-winding": (7,), "crs-mixed": ()}
    assert layer.crs == cases.UTM


def test_one_of_several_is_as_itself(tmp_path: Path) -> None:
    """A list of one file is that file, its record numbers kept."""
    assert read_layers([cases.write_deleted_record(tmp_path)]).records.tolist() == [1, 3, 4]


def test_the_problems_of_all_files_come_together(tmp_path: Path) -> None:
    """Two files without a CRS and one that is missing are three problems at once."""
    paths = [cases.write_no_prj(tmp_path / "a"), tmp_path / "none.shp", cases.write_no_prj(tmp_path / "b")]
    with pytest.raises(Problems) as caught:
        read_layers(paths)
    assert [type(one) for one in caught.value.each] == [NoCrsError, InputError, NoCrsError]
    with pytest.raises(InputError, match="No file is named"):
        read_layers([])


def test_tables_are_csv(tmp_path: Path) -> None:
    """A table has the ending of one, in any case of letters."""
    path = tmp_path / "rates.CSV"
    path.write_text("zone,rate\nA,90\n")
    assert read_table(path).columns["rate"].cells == ("90",)
    other = tmp_path / "rates.xlsx"
    other.write_bytes(b"PK")
    with pytest.raises(InputError, match=r"this is \.xlsx.*Save the table as CSV"):
        read_table(other)
    with pytest.raises(InputError, match="folder"):
        read_table(tmp_path)


def test_an_empty_collection_is_a_layer_without_records(tmp_path: Path) -> None:
    """No features is no error of the reader's."""
    path = tmp_path / "none.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": []}))
    layer = read_layer(path)
    assert len(layer.shapes) == 0
    assert layer.crs == "EPSG:4326"


def test_libraries_of_one_format_are_loaded_with_a_file_of_it() -> None:
    """Start-up is half of a small field: what reads rasters, KML and Parquet waits until there is one."""
    script = "import sys, vrx.inputs.read; print(*{'rasterio', 'defusedxml', 'pyarrow', 'fiona'} & set(sys.modules))"
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert ran.stdout.split() == []
