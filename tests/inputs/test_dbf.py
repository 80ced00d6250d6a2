from __future__ import annotations

import struct

import pytest
import support_cases as cases

from vrx.errors import InputError
from vrx.inputs.dbf import read_dbf

FIELDS = (("ZONE", "C", 12, 0), ("RATE", "N", 10, 2), ("WET", "L", 1, 0), ("DAY", "D", 8, 0), ("DOSE", "F", 8, 2))


def test_cells_are_text_as_they_stand() -> None:
    """Spaces at the ends go; blanks, asterisks and an unset truth value are empty; nothing is parsed."""
    rows = [["A ", "90.00", "T", "20310401", "1.#INF"], ["", "*" * 10, "?", "", ""], ["0", "0.00", "f", "x", "-1e3"]]
    table = read_dbf(cases.dbf_bytes(FIELDS, rows), source="z.dbf")
    assert {name: column.cells for name, column in table.columns.items()} == {
        "ZONE": ("A", None, "0"),
        "RATE": ("90.00", None, "0.00"),
        "WET": ("T", None, "f"),
        "DAY": ("20310401", None, "x"),
        "DOSE": ("1.#INF", None, "-1e3"),
    }
    assert [column.kind for column in table.columns.values()] == ["text", "number", "text", "text", "number"]


def test_what_follows_a_nul_in_a_text_is_left_over() -> None:
    """A name ends at its NUL; a number with something behind a NUL stays doubtful."""
    rows = [["A\0old name", "12\x0034", "T", "", ""]]
    table = read_dbf(cases.dbf_bytes(FIELDS, rows), source="z.dbf")
    assert table.columns["ZONE"].cells == ("A",)
    assert table.columns["RATE"].cells == ("12\x0034",)


def test_names_that_come_twice_are_told_apart() -> None:
    """The second RATE gets a name of its own, and a note says so."""
    fields = (("RATE", "N", 4, 0), ("RATE", "N", 4, 0), ("", "C", 2, 0))
    table = read_dbf(cases.dbf_bytes(fields, [["1", "2", "x"]]), source="z.dbf")
    assert {name: column.cells for name, column in table.columns.items()} == {
        "RATE": ("1",),
        "RATE_2": ("2",),
        "column_3": ("x",),
    }
    assert [finding.id for finding in table.findings] == ["column-names"]


def test_binary_integers_are_read() -> None:
    """A field of type I is a 4-byte integer, not text (FoxPro; from memory)."""
    data = bytearray(cases.dbf_bytes((("ID", "I", 4, 0),), [["    "]]))
    data[-5:-1] = struct.pack("<i", -70_000)
    assert read_dbf(bytes(data), source="z.dbf").columns["ID"].cells == (-70_000,)


@pytest.mark.parametrize(
    ("count", "expected", "ids"),
    [
        pytest.param(2, None, [], id="the truth"),
        pytest.param(0, None, ["record-count"], id="a header never updated"),
        pytest.param(9, 2, ["record-count"], id="too many in the header, shapes agree with the size"),
    ],
)
def test_a_lying_count_is_settled_by_the_size(count: int, expected: int | None, ids: list[str]) -> None:
    """Where the file holds whole records, those count, with a note."""
    data = cases.dbf_bytes((("ZONE", "C", 2, 0),), [["A"], ["B"]], count=count)
    table = read_dbf(data, source="z.dbf", expected=expected)
    assert table.count == 2
    assert [finding.id for finding in table.findings] == ids


@pytest.mark.parametrize(
    ("data", "words"),
    [
        pytest.param(b"\x03", "too short", id="one byte"),
        pytest.param(
            cases.dbf_bytes((("ZONE", "C", 9, 0),), [["A"], ["B"]])[:-8], "cut short", id="cut in the last record"
        ),
        pytest.param(
            cases.dbf_bytes((("ZONE", "C", 9, 0),), [["A"]]).replace(b" A", b"xA"), "does not start", id="flag"
        ),
        pytest.param(b"\x03" + b"\0" * 60, "damaged", id="zeros"),
    ],
)
def test_damage_is_refused(data: bytes, words: str) -> None:
    """A table that is cut or damaged is not read in part."""
    with pytest.raises(InputError, match=words):
        read_dbf(data, source="z.dbf")


@pytest.mark.parametrize(
    ("written", "cpg", "driver", "ids"),
    [
        pytest.param("utf-8", None, 0, [], id="UTF-8 is seen"),
        pytest.param("utf-8", b"UTF-8", 0, [], id="UTF-8 is said"),
        pytest.param("cp1252", None, 0, ["encoding"], id="Windows-1252 is guessed"),
        pytest.param("cp1252", None, 0x57, [], id="Windows-1252 by the driver byte"),
        pytest.param("cp1252", b"1252\r\n", 0, [], id="Windows-1252 is said"),
        pytest.param("cp850", b"OEM 850", 0, [], id="code page 850 is said"),
        pytest.param("cp850", None, 0x02, [], id="code page 850 by the driver byte"),
        pytest.param("cp1252", b"UTF-8", 0, ["encoding"], id="a .cpg that is wrong"),
        pytest.param("utf-8", b"hex", 0, [], id="a .cpg that names no encoding of text"),
    ],
)
def test_the_encoding_is_what_is_said_or_fits(written: str, cpg: bytes | None, driver: int, ids: list[str]) -> None:
    """The .cpg, then the language driver, then UTF-8, then Windows-1252: the names come out right."""
    data = cases.dbf_bytes((("ZONE", "C", 12, 0),), [["Höhe é"], ["Süd"]], encoding=written, driver=driver)
    table = read_dbf(data, source="z.dbf", cpg=cpg)
    assert table.columns["ZONE"].cells == ("Höhe é", "Süd")
    assert [finding.id for finding in table.findings] == ids


def test_a_letter_cut_at_the_width_of_its_field_does_not_change_the_encoding() -> None:
    """UTF-8 text cut within its last letter is still UTF-8."""
    data = cases.dbf_bytes((("ZONE", "C", 4, 0),), [["Süü"], ["ü"]])
    assert read_dbf(data, source="z.dbf").columns["ZONE"].cells == ("Sü", "ü")
