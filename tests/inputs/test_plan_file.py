"""Reading plans: what a good one gives, and what is said about each kind of mistake."""

from __future__ import annotations

import os
import re
import tomllib
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support_good_plan import GOOD, line_of, problems_of, write_plan

from vrx.errors import PlanError, Problems
from vrx.inputs.plan_file import read_plan
from vrx.units import Dialect, parse_unit


def test_a_good_plan_reads_with_its_folder_and_sources(tmp_path):
    """A plan without shared files comes from one source, and its gal is the US one."""
    path = write_plan(tmp_path)
    found = read_plan(path)
    assert (found.path, found.folder, found.sources) == (path, tmp_path, (path,))
    assert [product.name for product in found.plan.rated] == ["gypsum", "zinc"]
    assert found.plan.product[1].step.unit == parse_unit("gal/ac", Dialect("us"))
    assert found.plan.product[0].analysis == {"S": Fraction(16, 100), "Ca": Fraction(20, 100)}
    assert found.plan.keep_out[0].set_back == pytest.approx(15.24)  # 50 ft; the foot is 0.3048 m


def test_all_mistakes_are_told_at_once_in_the_order_of_their_lines(tmp_path):
    """A plan with mistakes of every sort gives all of them: keys, values, names and files."""
    text = (
        GOOD.replace("revision = 1", "revison = 1")
        .replace('"61.5 ac"', "61.5")
        .replace('"pond.geojson"', '"lake.geojson"')
        .replace('["gypsum"]', '["lime"]')
        .replace('"2000 lb/ac"', '"1 ton/ac"')
        .replace('product = "zinc"', 'product = "zink"')
    )
    found = problems_of(write_plan(tmp_path, text))
    assert [one.where.split(": ")[1].split(",")[0] for one in found] == [
        "revison", "field.stated_area", "keep_out[0].where", "keep_out[0].products[0]", "product[0].max",
        "product[1].name", "rate[1].product",
    ]  # fmt: skip
    lines = [int(one.where.rpartition(" ")[2]) for one in found]
    assert lines == sorted(lines)


def test_every_problem_of_a_product_is_told(tmp_path):
    """Two limits of another kind and a weight of nothing are three problems, not one."""
    text = GOOD.replace('min = "1 gal/ac"', 'min = "1 lb/ac"').replace('max = "4 gal/ac"', 'max = "4 lb/ac"')
    found = problems_of(write_plan(tmp_path, text.replace('"10.9 lb/gal"', '"0 lb/gal"')))
    assert [one.where.split(",")[0] for one in found] == [
        f"plan.toml: product[1].{key}" for key in ("min", "max", "density")
    ]


def test_a_missing_table_has_no_line(tmp_path):
    """A table that is nowhere is named without a line, and so is a list of tables."""
    text = GOOD[: GOOD.index("[zones]")] + GOOD[GOOD.index("[machine]") :]
    (found,) = problems_of(write_plan(tmp_path, text))
    assert found.where == "plan.toml: zones"
    assert "zones is missing" in found.problem
    assert "[zones] table" in found.remedy


def test_a_product_without_a_rate_is_refused(tmp_path):
    """A [[product]] of the plan that no [[rate]] gives is a mistake at its name."""
    text = re.sub(r'\[\[rate\]\]\nproduct = "zinc"(\n.+)+\n', "", GOOD).replace('"zinc"', '"zinc" #<')
    (found,) = problems_of(write_plan(tmp_path, text))
    assert found.where == f"plan.toml: product[1].name, line {line_of(text)}"
    assert "No [[rate]] says how much of 'zinc' goes where" in found.problem


@pytest.mark.parametrize(
    ("text", "where", "words"),
    [
        pytest.param("a = 1\na = 2\n", "line 2", ["twice"], id="a key twice"),
        pytest.param("[field]\n[field]\n", "line 2", ["twice"], id="a table twice"),
        pytest.param('x = "abc\ny = 1\n', "line 1", ["quote"], id="an open quote"),
        pytest.param("x = 18 gal/ac\n", "line 1", ["18 gal/ac", "quotes"], id="text without quotes"),
        pytest.param("x = yes\n", "line 1", ["yes", "quotes"], id="a word without quotes"),
        pytest.param("x = [1,\n", "line 2", ["TOML"], id="an open bracket"),
        pytest.param('x = "C:\\data"\n', "line 1", ["/"], id="backslashes"),
        pytest.param("x = 2027-02-30\n", "line 1", ["2027-04-12"], id="a day that there is not"),
        pytest.param("just words\n", "line 1", ["key = value"], id="prose"),
        pytest.param(f"x = {'9' * 5000}\n", "plan.toml", ["digits"], id="a number of 5000 digits"),
        pytest.param(f"x = {'[' * 5000}\n", "plan.toml", ["nested"], id="5000 brackets"),
    ],
)
def test_broken_toml_is_one_line_with_its_place(tmp_path, text, where, words):
    """Text that is not TOML gives one error with line and column, and how to write it."""
    path = tmp_path / "plan.toml"
    path.write_text(text, encoding="utf-8")
    (found,) = problems_of(path)
    assert isinstance(found, PlanError)
    assert found.where.startswith("plan.toml")
    assert where in found.where
    for word in words:
        assert word in str(found)
    assert "\n" not in str(found)


def test_a_file_that_is_not_there_is_said_with_the_one_that_is(tmp_path):
    """A misspelt plan is named together with the plan beside it."""
    write_plan(tmp_path)
    (found,) = problems_of(tmp_path / "plans.toml")
    assert "plans.toml" in found.problem
    assert '"plan.toml"' in found.remedy


def test_a_folder_is_no_plan_but_holds_one(tmp_path):
    """A folder is refused with the name of the plan in it."""
    write_plan(tmp_path)
    (found,) = problems_of(tmp_path)
    assert "is a folder" in found.problem
    assert f"{tmp_path.name}/plan.toml" in found.remedy


def test_a_huge_file_is_refused_before_it_is_read(tmp_path):
    """A file of 50 MB is refused by its size."""
    path = tmp_path / "plan.toml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    (found,) = problems_of(path)
    assert "47.7 MiB" in found.problem


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_refused_before_it_is_opened(tmp_path):
    """A named pipe, which would never end, is refused."""
    os.mkfifo(tmp_path / "plan.toml")
    (found,) = problems_of(tmp_path / "plan.toml")
    assert "not a regular file" in found.problem


def test_bytes_that_are_not_utf8_are_placed(tmp_path):
    """A byte of another encoding gives its line; UTF-16 is named."""
    path = write_plan(tmp_path)
    path.write_bytes(GOOD.replace("Ridge", "R\u00efdge").encode("cp1252"))
    (found,) = problems_of(path)
    assert found.where == "plan.toml, line 11"
    assert "UTF-8" in found.remedy
    path.write_bytes(GOOD.encode("utf-16"))
    (found,) = problems_of(path)
    assert "UTF-16" in found.problem


@pytest.mark.parametrize(
    "raw",
    [
        pytest.param(b"\xef\xbb\xbf" + GOOD.encode(), id="a byte order mark"),
        pytest.param(GOOD.replace("\n", "\r\n").encode(), id="line ends of Windows"),
        pytest.param(GOOD.rstrip("\n").encode(), id="no line end at the end"),
    ],
)
def test_how_an_editor_saves_does_not_matter(tmp_path, raw):
    """The plan is the same with a UTF-8 mark, other line ends, or none at the end."""
    path = write_plan(tmp_path)
    expected = read_plan(path).plan
    path.write_bytes(raw)
    assert read_plan(path).plan == expected


# --- promises ---------------------------------------------------------------------------------------

_KEY_LINE = re.compile(r"^([a-z_]+) = (.+)$")
_LINES = GOOD.split("\n")
_KEYS = [at for at, words in enumerate(_LINES) if _KEY_LINE.match(words)]
_NEEDED = {
    "[field]": {"name", "boundary"},
    "[[keep_out]]": {"where"},
    "[[product]]": {"name", "form", "use", "min", "max", "step"},
    "[[rate]]": {"product", "by", "table", "of", "breaks", "rates"},
    "[zones]": {"from"},
    "[[machine.drive]]": {"name", "span", "product"},
}


def _is_needed(at: int) -> bool:
    table = next((words for words in reversed(_LINES[:at]) if words.startswith("[")), "")
    return _LINES[at].split(" ")[0] in _NEEDED.get(table, ())


def _changed(at: int, new: list[str]) -> str:
    """Put other lines in place of a key and its value."""
    end = at + 1
    if _LINES[at].endswith("["):
        end = _LINES.index("]", at) + 1
    return "\n".join([*_LINES[:at], *new, *_LINES[end:]])


def _named(key: str, where: str) -> bool:
    return re.search(rf"\b{key}\b", where) is not None


_PROMISE = settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.mark.parametrize("at", [pytest.param(at, id=f"line {at + 1}") for at in _KEYS if _is_needed(at)])
def test_a_needed_key_that_is_left_out_is_named(tmp_path, at):
    """Each key without which a plan can't be is asked for by name, with the line of its table."""
    key = _LINES[at].split(" ")[0]
    found = problems_of(write_plan(tmp_path, _changed(at, [])))
    assert any(_named(key, one.where) and "missing" in one.problem for one in found)


@_PROMISE
@given(at=st.sampled_from(_KEYS), more=st.sampled_from(["x", "_", "e", "2"]))
def test_a_misspelt_key_is_named(tmp_path, at, more):
    """A key with a letter too many is refused by its name and line, with the nearest key as a hint."""
    key, value = _KEY_LINE.match(_LINES[at]).groups()
    found = problems_of(write_plan(tmp_path, _changed(at, [f"{key}{more} = {'[]' if value == '[' else value}"])))
    if key == "by":  # which keys a [[rate]] has depends on it, so the others are not looked at
        assert any(_named("by", one.where) for one in found)
    else:
        (here,) = [one for one in found if _named(key + more, one.where)]
        assert here.where.endswith(f"line {at + 1}")
        assert f'Did you mean "{key}"?' in here.remedy


@_PROMISE
@given(at=st.sampled_from(_KEYS), value=st.sampled_from(["1979-05-27T07:32:00", "{ a = true }", "[[]]", "07:32:00"]))
def test_a_value_of_the_wrong_type_is_refused_by_its_key(tmp_path, at, value):
    """No key takes a time of day, a table of something else, or a list of lists."""
    key = _LINES[at].split(" ")[0]
    found = problems_of(write_plan(tmp_path, _changed(at, [f"{key} = {value}"])))
    assert all(isinstance(one, PlanError) and one.remedy for one in found)
    assert any(_named(key, one.where) and one.where.endswith(f"line {at + 1}") for one in found)


_UNITS = st.sampled_from(
    ["", "gal", "lb", "ft", "ac", "lb/ac", "gal/ac", "m", "%", "ton/ac", "bushels", "lb P/ac", "/ac", "é"]
)


@_PROMISE
@given(unit=_UNITS, at=st.sampled_from([at for at in _KEYS if re.search(r'= "[0-9.]+ ', _LINES[at])]))
def test_a_wrong_unit_is_refused_by_its_key(tmp_path, unit, at):
    """A quantity given another unit is refused at its key, unless the kind of unit is the same."""
    key, value = _KEY_LINE.match(_LINES[at]).groups()
    number, right = value.strip('"').split(" ", 1)
    kin = [{"ft", "m"}, {"lb/ac", "gal/ac"}] if key == "rate" else [{"ft", "m"}]  # 0 is nothing in any unit
    if unit == right or any({unit, right} <= family for family in kin):
        return
    text = "\n".join([*_LINES[:at], f'{key} = "{number} {unit}"', *_LINES[at + 1 :]])
    found = problems_of(write_plan(tmp_path, text))
    assert any(re.search(rf"\b{key}, line {at + 1}$", one.where) for one in found) or key == "step"
    assert found


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(at=st.integers(0, len(GOOD) - 1), cut=st.integers(0, 30), put=st.text(max_size=6))
def test_any_damage_gives_a_plan_or_errors_of_ours(tmp_path, at, cut, put):
    """A plan with a stretch of text replaced reads, or is refused with problems and remedies; nothing else."""
    path = write_plan(tmp_path)
    path.write_text(GOOD[:at] + put + GOOD[at + cut :], encoding="utf-8", errors="replace", newline="")
    for one in problems_of(path):
        assert isinstance(one, PlanError)
        assert one.problem
        assert one.where.startswith("plan.toml")


def test_a_value_as_long_as_a_file_is_cut_in_the_message(tmp_path):
    """However long the wrong value, the message stays a line."""
    for value in ("[" + "1, " * 9000 + "]", '"' + "x" * 9000 + '"'):
        for key in ("date", "units", "smallest_area", "k" * 9000):
            text = f"{key} = {value}\n" + re.sub(rf"^{key} = .*\n", "", GOOD, flags=re.MULTILINE)
            (found,) = problems_of(write_plan(tmp_path, text))
            assert len(str(found)) < 1000


def test_all_problems_travel_as_one_error(tmp_path):
    """What the file says wrong comes as Problems, also where it is one thing."""
    with pytest.raises(Problems):
        read_plan(write_plan(tmp_path, GOOD.replace("revision = 1", "revision = 0")))


def test_the_example_of_every_key_reads(tmp_path, shared):
    """The plan that shows every key reads, with the speeds and flows of its machine as it says them."""
    text = (shared / "example-plan.toml").read_text(encoding="utf-8")
    for name in ("boundary.geojson", "waterway.gpkg", "soil_units.shp"):
        (tmp_path / name).touch()
    for name, words in (
        ("products", '[[product]]\nname = "other"\n'),
        ("machines", '[[machine]]\nname = "toolbar 40"\n'),
    ):
        text = text.replace(f'"../{name}.toml"', f'"{name}.toml"')
        (tmp_path / f"{name}.toml").write_text(words, encoding="utf-8")
    path = tmp_path / "plan.toml"
    path.write_text(text, encoding="utf-8")
    plan = read_plan(path).plan
    assert (str(plan.machine.speed), str(plan.machine.drive[0].flow)) == ("4 to 6 mph", "2 to 40 gal/min")
    assert plan.machine.narrowest_m("UAN 32") == pytest.approx(12.192)  # 40 ft
    assert tomllib.loads(text)["field"]["name"] == plan.field.name


def test_a_plan_may_be_named_without_a_folder(tmp_path, monkeypatch):
    """A bare file name is read from where one stands, and the folder is that place."""
    write_plan(tmp_path)
    monkeypatch.chdir(tmp_path)
    assert read_plan(Path("plan.toml")).folder == Path()
