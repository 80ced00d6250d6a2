"""Names of columns and files, and the code of the contents."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrx.exports.limits import loadable_column
from vrx.exports.names import CODE_LETTERS, column_name, column_names, content_code, file_stem, renamed_finding

TEXTS = st.text(max_size=40) | st.sampled_from(["RATE_KG_HA_NITROGEN", "RATE", "rate", "2,4-D", "尿素", "C", "COL_2"])


@pytest.mark.parametrize(
    ("wanted", "name"),
    [
        pytest.param("RATE", "RATE", id="a name that fits stays"),
        pytest.param("Rate_kgha1", "Rate_kgha1", id="ten characters fit, case stays"),
        pytest.param("RATE GAL/AC", "RATE_GAL", id="of too many words the short ones go"),
        pytest.param("RATE_KG_HA_NITROGEN", "RATE_NITRO", id="units go before the product"),
        pytest.param("Kalkammonsalpeter", "Kalkammons", id="one long word is cut"),
        pytest.param("Düngung", "Dungung", id="accents vanish"),
        pytest.param("Straße", "Strasse", id="letters that are two"),
        pytest.param("P₂O₅", "P2O5", id="low digits are digits"),
        pytest.param("2,4-D", "C_2_4_D", id="a digit does not lead"),
        pytest.param("尿素", "COL", id="nothing plain is left"),
        pytest.param("", "COL", id="empty"),
    ],
)
def test_a_column_name_keeps_what_it_can(wanted: str, name: str) -> None:
    """A column name is the wanted one in at most ten plain characters."""
    assert column_name(wanted) == name


def test_a_taken_name_is_numbered_within_ten_characters() -> None:
    """A name that differs from a taken one by case only gets a number, and still fits."""
    assert column_name("rate", ["RATE"]) == "rate_2"
    assert column_name("Kalkammonsalpeter", ["KALKAMMONS", "kalkammo_2"]) == "Kalkammo_3"


@pytest.mark.parametrize(
    ("wanted", "names"),
    [
        pytest.param(["RATE_UREA", "RATE_LIME"], ("RATE_UREA", "RATE_LIME"), id="all fit"),
        pytest.param(["RATE_UREA", "RATE_POTASH"], ("RATE_UREA", "RAT_POTASH"), id="only the long one changes"),
        pytest.param(["RATE_PRODUCT_1", "RATE_PRODUCT_2"], ("RATE_1", "RATE_2"), id="the difference is a number"),
        pytest.param(
            ["NITROGEN_KG_HA", "PHOSPHATE_KG_HA"], ("NITROGEN_K", "PHOSPHAT_K"), id="what is shared stands behind"
        ),
        pytest.param(
            ["RATE_AMMONIUM_NITRATE", "RATE_AMMONIUM_SULPHATE"],
            ("R_NITRATE", "R_SULPHATE"),
            id="products share a word",
        ),
        pytest.param(["TRIPLE_SUPERPHOSPHATE", "UREA"], ("TRIPL_SUPE", "UREA"), id="nothing shared"),
        pytest.param(["RATE_LONGNAME", "rate_longname"], ("R_LONGNAME", "r_longna_2"), id="the same but for case"),
        pytest.param(
            ["KALKAMMONSALPETER", "KALKAMMONS"],
            ("KALKAMMO_2", "KALKAMMONS"),
            id="a name that fits is not lost to a cut one",
        ),
        pytest.param([], (), id="none"),
    ],
)
def test_columns_of_one_file_stay_tellable_apart(wanted: list[str], names: tuple[str, ...]) -> None:
    """The shared words are shortened, those that differ are kept."""
    assert column_names(wanted) == names


def test_the_two_rate_columns_of_the_case_keep_their_product(shared: Path) -> None:
    """Nitrogen and phosphate, one name when cut at ten, are told apart; the note names 10, the old and the new."""
    case = shared / "cases" / "S08-field-name-collision"
    expected = json.loads((case / "case.json").read_text())["expected"]
    properties = json.loads((case / "zones.geojson").read_text())["features"][0]["properties"]
    wanted = [name for name in properties if name.startswith("RATE")]
    names = column_names(wanted)
    assert dict(zip(wanted, names, strict=True)) == {
        "RATE_KG_HA_NITROGEN": "R_NITROGEN",
        "RATE_KG_HA_PHOSPHATE": "R_PHOSPHAT",
    }
    assert max(map(len, names)) <= expected["values"]["exported_names_unique_and_at_most"]
    finding = renamed_finding(zip(wanted, names, strict=True))
    assert finding is not None
    assert (finding.id, finding.severity) == ("name-shortened", "note")
    assert all(word in finding.message for word in [*expected["message_should_mention"], *names])


def test_nothing_renamed_is_nothing_to_say() -> None:
    """Names that stayed make no finding, and stand in none."""
    assert renamed_finding([("RATE", "RATE")]) is None
    finding = renamed_finding([("KEPT", "KEPT"), ("RATE UREA", "RATE_UREA")])
    assert finding is not None
    assert "KEPT" not in finding.message


@given(st.lists(TEXTS, max_size=12))
def test_any_columns_get_loadable_names_that_differ(wanted: list[str]) -> None:
    """Whatever the texts, names are at most ten plain characters, a letter first, unique without regard to case."""
    names = column_names(wanted)
    assert len(names) == len(wanted)
    assert all(map(loadable_column, names))
    assert len({name.lower() for name in names}) == len(names)


@given(TEXTS, st.lists(TEXTS, max_size=8))
def test_any_column_avoids_the_taken_ones(wanted: str, others: list[str]) -> None:
    """A name never equals a taken one, and a name made before is loadable as well."""
    taken: list[str] = []
    for text in [*others, wanted]:
        name = column_name(text, taken)
        assert loadable_column(name)
        assert name.lower() not in {each.lower() for each in taken}
        taken.append(name)


@pytest.mark.parametrize(
    ("field", "season", "product", "longest", "stem"),
    [
        pytest.param("Vlei 3", 2027, "Lime", 32, "vlei-3_2027_lime_k7mq", id="all of it"),
        pytest.param("Große Wiese", None, "Kalk", 32, "grosse-wiese_kalk_k7mq", id="no season"),
        pytest.param("尿素", 2027, "Lime", 32, "lime_2027_k7mq", id="a field without plain letters is left out"),
        pytest.param("", None, "", 32, "map_k7mq", id="nothing but the code"),
        pytest.param("Langer Acker", 2027, "Volldünger", 20, "lang_2027_volld_k7mq", id="both are cut evenly"),
        pytest.param("Langer Acker", 2027, "Volldünger", 12, "lan_vol_k7mq", id="the season gives way"),
        pytest.param("Con", None, "", 32, "con_k7mq", id="a device's name is no whole stem"),
        pytest.param("a/b\\c:..", 2027, "*?", 32, "a-b-c_2027_k7mq", id="marks of paths"),
    ],
)
def test_a_file_stem_is_plain_and_fits(field: str, season: int | None, product: str, longest: int, stem: str) -> None:
    """Field, season, product and code, in lower case, shortened from the longest part."""
    assert file_stem(field, season, product, "k7mq", longest=longest) == stem


def test_two_files_of_one_folder_never_share_a_stem() -> None:
    """Products that shorten to the same text are numbered, the code kept."""
    first = file_stem("Acker", 2027, "Ammonsulfat A", "k7mq", longest=20)
    second = file_stem("Acker", 2027, "Ammonsulfat B", "k7mq", longest=20, taken=[first.upper()])
    assert first == "acke_2027_ammon_k7mq"
    assert second == "acke_2027_amm-2_k7mq"


@pytest.mark.parametrize(
    ("season", "longest", "stems"),
    [
        pytest.param(
            2027, 32, ["nordliche_2027_ka_k7mq", "nordliche_2027_kalkammonsal_k7mq", "nordliche_2027_harnstoff_k7mq"],
            id="the longest product decides",
        ),
        pytest.param(2027, 16, ["nordl_ka_k7mq", "nordl_kalka_k7mq", "nordl_harns_k7mq"], id="the season goes for all"),
        pytest.param(
            None, 60, [f"nordliche-wiese-am-bach_{one}_k7mq" for one in ("ka", "kalkammonsalpeter", "harnstoff")],
            id="all of it",
        ),
    ],
)  # fmt: skip
def test_files_of_one_field_begin_alike(season: int | None, longest: int, stems: list[str]) -> None:
    """Field and season are the same in the files of a build, however long the name of its product."""
    products = ["KA", "Kalkammonsalpeter", "Harnstoff"]
    found = [
        file_stem("Nördliche Wiese am Bach", season, one, "k7mq", longest=longest, beside=products) for one in products
    ]
    assert found == stems
    assert len({stem.partition("_")[0] for stem in found}) == 1


@given(
    field=st.text(max_size=50),
    season=st.none() | st.integers(1900, 2200),
    product=st.text(max_size=50),
    code=st.text(CODE_LETTERS, min_size=4, max_size=4),
    longest=st.integers(12, 120),
)
def test_any_file_stem_loads_anywhere(field: str, season: int | None, product: str, code: str, longest: int) -> None:
    """Whatever the names, a stem fits, has no empty part, and ends on the whole code."""
    stem = file_stem(field, season, product, code, longest=longest)
    assert len(stem) <= longest
    assert re.fullmatch(r"([a-z0-9]+(-[a-z0-9]+)*_)+[a-z0-9]{4}", stem)
    assert stem.endswith(f"_{code}")
    taken = [stem]
    for _ in range(3):
        taken.append(file_stem(field, season, product, code, longest=longest, taken=taken, beside=[field, product]))
        assert len(taken[-1]) <= longest
        assert taken[-1].endswith(f"_{code}")
    assert len(set(taken)) == len(taken)


def test_the_code_is_made_of_the_sha_256_of_the_parts() -> None:
    """The code follows from SHA-256, here through another way to the digits: base 31, lowest first."""
    import hashlib

    number = int(hashlib.sha256(bytes([0, 0, 0, 0, 0, 0, 0, 1]) + b"a").hexdigest(), 16)
    assert content_code(b"a") == "".join(CODE_LETTERS[number // 31**place % 31] for place in range(4))


def test_the_code_has_no_letter_that_is_misread() -> None:
    """No 0, 1, i, l or o, and nothing in upper case."""
    assert set(CODE_LETTERS).isdisjoint("01ilo")
    assert len(set(CODE_LETTERS)) == 31


def test_the_code_tells_contents_apart() -> None:
    """A moved byte, another order and another part give other codes; the same contents the same."""
    codes = [content_code(b"ab", b"c"), content_code(b"a", b"bc"), content_code(b"c", b"ab"), content_code(b"abc")]
    assert len(set(codes)) == 4
    assert codes[0] == content_code(b"ab", b"c")
