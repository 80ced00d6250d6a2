"""A product asked for a question at a time, and added to a shared file that stays as it is otherwise."""

from __future__ import annotations

import errno
import io
import json
import os
import pty
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from support_faults import Fault, disturbed
from support_good_plan import GOOD, write_plan

from vrx.cli.main import main
from vrx.errors import InputError, OutputError, PlanError, VrxError
from vrx.exports.append import append_text
from vrx.inputs.plan_file import read_plan
from vrx.inputs.product_questions import Interview, Question
from vrx.model.product import Product
from vrx.runs.product import add_product
from vrx.units import Dialect

Capture = pytest.CaptureFixture[str]

GYPSUM = ["gypsum", "granular", "other", "lb/ac", "500", "2000", "100", "", "600", "500, 1000", "", "", ""]
FERTILISER = [
    *("UAN 32", "liquid", "fertiliser", "gal/ac", "8", "26 gal/ac", "1", "no", "14", "12, 18 gal/ac"),
    *("11.06 lb/gal", "N 32, S 1.5 %", "412 USD/short_ton", "", "corn, grain sorghum"),
]
SEED = [
    "hybrid",
    "seed",
    "seed",
    "seeds/ac",
    "20000",
    "40000",
    "500",
    "",
    "",
    "",
    "",
    "42 g",
    "",
    "bag(80000 seeds)",
    "",
]
SHARED = '# the office\'s products\nunits = "us"\n\n[[product]]\nname = "zinc"  # as labelled\n'


def answered(path: Path, *answers: str) -> dict[str, object]:
    """Add a product with these answers, and return it as the file has it."""
    said = iter(answers)

    def ask(_: Question) -> str:
        try:
            return next(said)
        except StopIteration:
            raise EOFError from None

    add_product(path, ask=ask)
    assert next(said, None) is None, "answers are left over"
    found: dict[str, object] = tomllib.loads(path.read_text(encoding="utf-8-sig"))["product"][-1]
    return found


@pytest.fixture
def shared(tmp_path: Path) -> Path:
    path = tmp_path / "products.toml"
    path.write_text(SHARED, encoding="utf-8")
    return path


# --- what comes out


def test_the_answers_are_the_entry(shared: Path) -> None:
    """A bare number counts in the unit that was asked for, a bare share in percent; what was left out is not there."""
    assert answered(shared, *FERTILISER) == {
        "name": "UAN 32",
        "form": "liquid",
        "use": "fertiliser",
        "min": "8 gal/ac",
        "max": "26 gal/ac",
        "step": "1 gal/ac",
        "off_allowed": False,
        "default": "14 gal/ac",
        "hand_rates": ["12 gal/ac", "18 gal/ac"],
        "density": "11.06 lb/gal",
        "analysis": {"N": "32 %", "S": "1.5 %"},
        "price": "412 USD/short_ton",
        "crops": ["corn", "grain sorghum"],
    }


def test_seed_is_asked_for_its_weight_and_for_no_analysis(shared: Path) -> None:
    """Only what a product of its kind can have is asked."""
    assert answered(shared, *SEED) == {
        "name": "hybrid",
        "form": "seed",
        "use": "seed",
        "min": "20000 seeds/ac",
        "max": "40000 seeds/ac",
        "step": "500 seeds/ac",
        "thousand_seed_weight": "42 g",
        "package": "bag(80000 seeds)",
    }


def test_a_plan_takes_the_product_that_was_added(tmp_path: Path) -> None:
    """The product of a good plan, taken out of it and asked for instead, is the same to the reader."""
    start, end = GOOD.index("[[product]]"), GOOD.index("[[rate]]")
    plan = write_plan(tmp_path, 'products = "products.toml"\n' + GOOD[:start] + GOOD[end:])
    answered(tmp_path / "products.toml", "us", *GYPSUM)
    there = next(one for one in read_plan(plan).plan.product if one.name == "gypsum")
    (tmp_path / "own").mkdir()
    own = next(one for one in read_plan(write_plan(tmp_path / "own")).plan.product if one.name == "gypsum")
    assert there == own.model_copy(update={"analysis": {}})


@pytest.mark.parametrize(
    "before",
    [
        pytest.param(SHARED, id="as it should be"),
        pytest.param(SHARED.rstrip("\n"), id="no end to its last line"),
        pytest.param(SHARED.replace("\n", "\r\n"), id="lines of Windows"),
        pytest.param("\ufeff" + SHARED, id="a mark at its start"),
        pytest.param(
            'units = "us"\n[[machine]]\nname = "cart"\n[[machine.drive]]\nname = "left"\n', id="a machine last"
        ),
        pytest.param("", id="empty"),
    ],
)
def test_the_rest_of_the_file_stays_byte_for_byte(tmp_path: Path, before: str) -> None:
    """What was there is there, at the same place; the new table follows with the line ends of the file."""
    path = tmp_path / "products.toml"
    path.write_bytes(before.encode("utf-8"))
    answers = [one.replace("lb/ac", "kg/ha") for one in GYPSUM]
    answered(path, *answers)
    after = path.read_bytes()
    assert after.startswith(before.encode("utf-8"))
    added = after[len(before.encode("utf-8")) :]
    assert added.count(b"\r\n") == (added.count(b"\n") if "\r\n" in before else 0)
    assert added.count(b"[[product]]") == 1


def test_a_file_that_is_not_there_is_made(tmp_path: Path) -> None:
    """It is asked first what gal and cwt mean in it, and says so."""
    path = tmp_path / "products.toml"
    answered(path, "us", *GYPSUM)
    assert path.read_text(encoding="utf-8").startswith('units = "us"\n\n[[product]]\nname = "gypsum"\n')


def test_two_products_follow_each_other(shared: Path) -> None:
    """Each a table of its own, parted by a line."""
    answered(shared, *GYPSUM)
    answered(shared, *FERTILISER)
    names = [one["name"] for one in tomllib.loads(shared.read_text(encoding="utf-8"))["product"]]
    assert names == ["zinc", "gypsum", "UAN 32"]
    assert shared.read_text(encoding="utf-8").count("\n\n[[product]]\n") == 3


# --- answers


@pytest.mark.parametrize(
    ("before", "said", "problem"),
    [
        pytest.param([], "", "name is needed.", id="a name is needed"),
        pytest.param([], "x" * 81, "has 81 characters", id="a long name"),
        pytest.param([], "ZINC ", "'zinc' is there already", id="a name that is there"),
        pytest.param(["a"], "powder", 'form = "powder" is not one of its choices.', id="no form"),
        pytest.param(["a", "gas"], "fertilizer", 'use = "fertilizer" is not one of its choices.', id="no use"),
        pytest.param(["a", "granular", "other"], "gal/ac", "is not metered in gal/ac", id="a unit of another form"),
        pytest.param(["a", "granular", "other"], "ton/ac", "used for several things", id="a unit read in two ways"),
        pytest.param(["a", "granular", "other"], "lb", "is a mass", id="a unit that is no rate"),
        pytest.param(["a", "granular", "fertiliser"], "lb N/ac", "a nutrient, not a product", id="a nutrient"),
        pytest.param(["a", "granular", "other", "lb/ac"], "-5", "leave no rate", id="below nothing"),
        pytest.param(["a", "granular", "other", "lb/ac"], "5,5", "has a comma", id="a comma"),
        pytest.param(["a", "granular", "other", "lb/ac", "30"], "20", "leave no rate", id="max below min"),
        pytest.param(["a", "granular", "other", "lb/ac", "30"], "40 gal/ac", "not the same kind", id="another kind"),
        pytest.param(["a", "granular", "other", "lb/ac", "31", "34"], "5", "No allowed rate", id="a step between"),
        pytest.param(["a", "granular", "other", "lb/ac", "30", "40"], "0", "is not above 0", id="no step"),
        pytest.param([*GYPSUM[:7]], "maybe", "neither yes nor no", id="neither yes nor no"),
        pytest.param(["a", "granular", "other", "lb/ac", "0", "40", "5"], "no", "disagree", id="never off, and 0"),
        pytest.param([*GYPSUM[:8]], "650", "not a rate that the machine can hold", id="a default between steps"),
        pytest.param([*GYPSUM[:9]], "500, 510", "not a rate that the machine can hold", id="a hand rate between"),
        pytest.param([*FERTILISER[:10]], "11 lb", "is a mass", id="no density"),
        pytest.param([*FERTILISER[:11]], "P 20", "does not say element or oxide", id="P"),
        pytest.param([*FERTILISER[:11]], "N", "does not say how much", id="no share"),
        pytest.param([*FERTILISER[:11]], "N 60, S 50", "more than 100 %", id="more than the whole"),
        pytest.param([*FERTILISER[:12]], "412", "no currency", id="no currency"),
    ],
)
def test_an_answer_is_checked_at_once(shared: Path, before: list[str], said: str, problem: str) -> None:
    """In the model's words; the same question is still to be answered, and no earlier one is blamed."""
    interview = Interview(["zinc"], Dialect("us"))
    for one in before:
        interview.answer(one)
    question = interview.question
    with pytest.raises(PlanError) as caught:
        interview.answer(said)
    assert problem in caught.value.problem
    assert interview.question == question


def test_what_is_accepted_in_the_end_the_model_accepts(shared: Path) -> None:
    """Nothing is asked for that the whole entry would then be refused for."""
    for answers in (GYPSUM, FERTILISER, SEED):
        interview = Interview([], Dialect("us"))
        for one in answers:
            interview.answer(one)
        assert interview.question is None
        Product.model_validate(interview.product, context={"dialect": Dialect("us")})


def test_an_answer_can_be_taken_back(shared: Path) -> None:
    """The question before is asked again, as often as wanted, and back at the first there is nothing to take back."""
    assert answered(shared, "<", "gipsum", "<", "gypsum", "granular", "seed", "<", *GYPSUM[2:])["name"] == "gypsum"


def test_each_question_says_what_is_accepted() -> None:
    """The key's own description, its choices and examples; what may be left out says so."""
    interview = Interview([], Dialect("us"))
    seen = {}
    for one in FERTILISER:
        question = interview.question
        assert question is not None
        seen[question.key] = question.text
        interview.answer(one)
    assert seen["form"] == "What it is made of. (seed, liquid, granular or gas)"
    assert seen["unit"] == "The unit in which the machine steps, such as gal/ac, L/ha, lb/ac, kg/ha."
    assert seen["max"].endswith("A number counts in gal/ac.")
    assert seen["density"].endswith("(Enter: leave it out)")


def test_without_units_a_file_is_read_in_any_plan(tmp_path: Path) -> None:
    """So gal is refused in it, as a plan in metric units would refuse it."""
    path = tmp_path / "products.toml"
    path.write_text('[[product]]\nname = "zinc"\n', encoding="utf-8")
    with pytest.raises(PlanError, match="US or an imperial measure"):
        answered(path, *FERTILISER[:4])


# --- the file is left as it was


def test_answers_that_end_leave_the_file(shared: Path) -> None:
    """At any question; the one that was next is named."""
    for count in range(len(FERTILISER)):
        with pytest.raises(InputError, match="The answers end before"):
            answered(shared, *FERTILISER[:count])
        assert shared.read_text(encoding="utf-8") == SHARED


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        pytest.param(GOOD, "is not a key of a shared file", id="a plan"),
        pytest.param("units = ", "This is not TOML", id="no TOML"),
        pytest.param('product = [{ name = "zinc" }]\n', "can't be added at the end", id="products in a list"),
        pytest.param("[product]\nname = 'zinc'\n", "is not a list of tables", id="one table"),
    ],
)
def test_a_file_that_can_not_take_it_is_left(tmp_path: Path, text: str, problem: str) -> None:
    """One line that names the file."""
    path = tmp_path / "products.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(VrxError, match=problem) as caught:
        answered(path, *(one.replace("lb/ac", "kg/ha") for one in GYPSUM))
    assert "products.toml" in str(caught.value)
    assert path.read_text(encoding="utf-8") == text


def test_a_file_that_was_changed_meanwhile_is_left(shared: Path) -> None:
    """Someone may have added the same product."""
    said = iter(GYPSUM)

    def ask(_: Question) -> str:
        shared.write_text(SHARED + "# more\n", encoding="utf-8")
        return next(said)

    with pytest.raises(OutputError, match="changed meanwhile"):
        add_product(shared, ask=ask)
    assert shared.read_text(encoding="utf-8") == SHARED + "# more\n"


@pytest.mark.parametrize("before", [None, b"units = 'us'\n"], ids=["no file", "a file"])
def test_a_fault_at_any_step_leaves_the_file_or_the_whole_entry(tmp_path: Path, before: bytes | None) -> None:
    """Each step in turn fails: nothing or all of it is added, and where nothing is, it was said."""
    for at in range(1, 20):
        path = tmp_path / f"{at}.toml"
        if before is not None:
            path.write_bytes(before)
        fault = Fault(at, forever=False, code=errno.ENOSPC)
        told = ""
        with disturbed(fault):
            try:
                append_text(path, "[[product]]\n", before=before)
            except OutputError as err:
                told = err.problem
        found = path.read_bytes() if path.exists() else None
        if not fault.hit:
            break
        assert found == (before if told else (before or b"") + (b"\n" if before else b"") + b"[[product]]\n"), at
    assert at > 3


def test_a_write_that_gets_half_way_is_taken_back(shared: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk may take a part of the entry first."""
    real, count = os.write, 0

    def write(handle: int, data: memoryview) -> int:
        nonlocal count
        count += 1
        if count > 1:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(handle, data[:5])

    monkeypatch.setattr(os, "write", write)
    with pytest.raises(OutputError, match="no room left"):
        answered(shared, *GYPSUM)
    assert shared.read_text(encoding="utf-8") == SHARED


# --- the command line


@pytest.fixture
def piped(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n".join(GYPSUM) + "\n"))
    return


@pytest.mark.usefixtures("piped")
def test_a_pipe_answers_by_lines(shared: Path, capsys: Capture) -> None:
    """With --json one object, and no prompts."""
    assert main(["product", "add", "--file", str(shared), "--json"]) == 0
    printed = capsys.readouterr()
    said = json.loads(printed.out)
    assert said["file"] == str(shared.resolve())
    assert said["product"] == tomllib.loads(shared.read_text(encoding="utf-8"))["product"][-1]
    assert printed.err == ""


@pytest.mark.parametrize(
    ("lines", "problem"),
    [
        pytest.param("gypsum\npowder\ngranular\n", "vrx: form: form = ", id="a refused answer is the end"),
        pytest.param("gypsum\n", "The answers end before form.", id="too few"),
        pytest.param("", "The answers end before name.", id="none"),
    ],
)
def test_a_pipe_that_says_too_little_or_wrong_is_one_line(
    shared: Path, lines: str, problem: str, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit 2: the lines after a refused one would answer other questions than they were meant for."""
    monkeypatch.setattr(sys, "stdin", io.StringIO(lines))
    assert main(["product", "add", "--file", str(shared)]) == 2
    said = capsys.readouterr().err
    assert problem in said
    assert said.count("\n") == 1
    assert shared.read_text(encoding="utf-8") == SHARED


def test_ctrl_c_leaves_the_file(shared: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    """Exit 130, and one word about it."""

    class Interrupted(io.StringIO):
        def readline(self, *_: object) -> str:
            raise KeyboardInterrupt

    monkeypatch.setattr(sys, "stdin", Interrupted())
    assert main(["product", "add", "--file", str(shared)]) == 130
    assert capsys.readouterr().err == "Stopped. Nothing was left half-written.\n"
    assert shared.read_text(encoding="utf-8") == SHARED


def test_answers_of_another_encoding_are_refused(
    shared: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line, and the file as it was."""
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"kalk \xe9\n"), encoding="utf-8"))
    assert main(["product", "add", "--file", str(shared)]) == 2
    assert "not UTF-8" in capsys.readouterr().err
    assert shared.read_text(encoding="utf-8") == SHARED


@pytest.mark.skipif(sys.platform == "win32", reason="terminals of POSIX")
def test_at_a_terminal_a_refused_answer_is_asked_again(
    shared: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each question and each refusal stands on standard error, and the work goes on."""
    keyboard, terminal = pty.openpty()
    os.write(keyboard, "\n".join(["gypsum", "powder", *GYPSUM[1:]]).encode() + b"\n")
    with os.fdopen(terminal, "r", encoding="utf-8") as stdin:
        monkeypatch.setattr(sys, "stdin", stdin)
        assert main(["product", "add", "--file", str(shared)]) == 0
    os.close(keyboard)
    said = capsys.readouterr().err
    assert said.count("form: What it is made of.") == 2
    assert 'form = "powder" is not one of its choices.' in said
    assert tomllib.loads(shared.read_text(encoding="utf-8"))["product"][-1]["name"] == "gypsum"


def test_what_to_do_with_products_is_said(capsys: Capture) -> None:
    """vrx product alone does nothing."""
    assert main(["product"]) == 2
    assert "ACTION" in capsys.readouterr().err
