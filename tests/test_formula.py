"""Formulas: what reads, what is refused where and with which words, and that nothing else ever gets through."""

from __future__ import annotations

import ast
import pickle
import time

import pytest
from hypothesis import example, given, settings
from support_formula import TEXTS

from vrx.errors import PlanError, Problems
from vrx.formula import FUNCTIONS, LONGEST, check_names, read_formula

SAFE = (
    ast.Constant, ast.Name, ast.Load, ast.UnaryOp, ast.BinOp, ast.BoolOp, ast.Compare, ast.IfExp, ast.Call,
    ast.operator, ast.unaryop, ast.boolop, ast.cmpop,
)  # fmt: skip


@pytest.mark.parametrize(
    ("text", "names"),
    [
        pytest.param("20 - 2 * om_pct", ("om_pct",), id="arithmetic"),
        pytest.param("`OM %` * `soil.k` + `OM %`", ("OM %", "soil.k"), id="names in backticks, each once"),
        pytest.param("`om` + om", ("om",), id="the same name with and without backticks"),
        pytest.param("Höhe / größe", ("Höhe", "größe"), id="letters of other languages"),
        pytest.param(
            "class + import_ + lambda", ("class", "import_", "lambda"), id="words that Python keeps for itself"
        ),
        pytest.param("min * max(min, 2)", ("min",), id="a field named like a function"),
        pytest.param("True + None", ("True", "None"), id="what Python means by these is no number here"),
        pytest.param("1e3 * .5 + 2.", (), id="numbers"),
        pytest.param("a\n  + b", ("a", "b"), id="over two lines"),
        pytest.param("2 if 1 < a <= 3 and not b == 4 or c != 5 else -6", ("a", "b", "c"), id="conditions"),
        pytest.param("-a ** -b", ("a", "b"), id="signs"),
    ],
)
def test_what_reads(text: str, names: tuple[str, ...]) -> None:
    """Names come in order, each once."""
    assert read_formula(text).names == names


@pytest.mark.parametrize(
    ("text", "where", "words"),
    [
        pytest.param("20 - 2om", "column 7, at o", "Write *", id="no sign to multiply"),
        pytest.param("2 (om)", "column 3, at (", "Write *", id="none before a bracket either"),
        pytest.param("om ^ 2", "column 4, at ^", "Write **", id="a hat"),
        pytest.param("om // 2", "column 4, at /", "floor", id="two slashes"),
        pytest.param("om % 2", "column 4, at %", "0.32", id="percent"),
        pytest.param("om = 2", "column 4, at =", "==", id="one equals sign"),
        pytest.param("=2 * om", "column 1, at =", "Leave it out", id="as in a spreadsheet"),
        pytest.param("1,5 * om", "column 2, at ,", "point", id="a decimal comma"),
        pytest.param("max(1,5)", "column 6, at ,", "a space behind a comma", id="one number or two"),
        pytest.param("om × 2", "column 4, at ×", "Write *", id="a printed times"),
        pytest.param("om − 2", "column 4, at −", "keyboard", id="a printed minus"),
        pytest.param("soil.om", "column 5, at .", "backticks", id="an attribute"),
        pytest.param("'OM'", "column 1, at '", "backticks", id="text"),
        pytest.param("om[0]", "column 3, at [", "Use numbers", id="an index"),
        pytest.param("lambda: 1", "column 7, at :", "Use numbers", id="a function of its own"),
        pytest.param("(a := 2)", "column 4, at :", "Use numbers", id="an assignment"),
        pytest.param("`OM", "column 1, at `", "never ends", id="a backtick alone"),
        pytest.param("`` + 1", "column 1, at `", "empty", id="an empty name"),
        pytest.param("1e400", "column 2, at e", "one piece", id="a huge exponent"),
        pytest.param("1_000", "column 2, at _", "one piece", id="a number in groups"),
        pytest.param("9" * 31, "column 1, at 9", "30", id="a number without end"),
        pytest.param("20 -", "column 5)", "ends where", id="an end too early"),
        pytest.param("", "column 1)", "ends where", id="nothing"),
        pytest.param("(1 + om", "column 1, at (", "Close it", id="an open bracket"),
        pytest.param("1 + om)", "column 7, at )", "no bracket is open", id="a bracket too many"),
        pytest.param("1 + ()", "column 6, at )", "value is missing", id="empty brackets"),
        pytest.param("om n", "column 4, at n", "sign is missing", id="two names"),
        pytest.param("om AND n", "column 4, at AND", "small letters", id="and in capitals"),
        pytest.param("om * / 2", "column 6, at /", "value is missing", id="two signs"),
        pytest.param("max(*om, 1)", "column 5, at *", "value is missing", id="values unpacked"),
        pytest.param("log(om)", "column 1, at log", "ln for the natural logarithm or log10", id="log is two things"),
        pytest.param("mim(om, 1)", "column 1, at mim", 'Did you mean "min"?', id="a misspelt function"),
        pytest.param("eval(om)", "column 1, at eval", "Functions are min, max", id="a function that there is not"),
        pytest.param("if(om > 3, 20, 10)", "column 1, at if", "20 if om > 3 else 10", id="a choice as in spreadsheets"),
        pytest.param("IF(om > 3, 20, 10)", "column 1, at IF", "20 if om > 3 else 10", id="that, in capitals"),
        pytest.param("max(om)", "column 1, at max", "2 to 20 values, not 1", id="too few values"),
        pytest.param("sqrt(om, 2)", "column 1, at sqrt", "1 value, not 2", id="too many values"),
        pytest.param("round(om, n)", "column 11, at n", "0 to 9", id="decimals from a field"),
        pytest.param("round(om, 1.5)", "column 11, at 1.5", "0 to 9", id="one and a half decimals"),
        pytest.param("om > 3", "column 1, at om", "20 if om > 3 else 10", id="a comparison for a number"),
        pytest.param("5 * (om > 3)", "column 6, at om", "20 if om > 3 else 10", id="true times five"),
        pytest.param("2 if om else 1", "column 6, at om", "a comparison is needed", id="a number for a comparison"),
        pytest.param("2 if om > 1", "column 1, at 2", "20 if om > 3 else 10", id="a choice without else"),
        pytest.param("1 + not om > 2", "column 5, at not", "does not read", id="not in a sum"),
        pytest.param("1\n+ 2\n+ ?", "line 3, column 3, at ?", "Use numbers", id="on the third line"),
        pytest.param("(" * 21 + "1" + ")" * 21, "column 21, at (", "20 levels", id="too many brackets"),
        pytest.param("-" * 150 + "1", "column 102, at -", "100 levels", id="too deep"),
        pytest.param("1" + "+1" * 130, "column 251, at 1", "250 words", id="too many words"),
        pytest.param("exp(" * 11 + "1" + ")" * 11, "at exp", "at most 10 of exp", id="too much to work out"),
    ],
)
def test_a_fault_is_named_where_it_is(text: str, where: str, words: str) -> None:
    """Column and word, and what would do."""
    with pytest.raises(PlanError) as caught:
        read_formula(text)
    assert where in caught.value.problem
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_formula_is_not_longer_than_a_page() -> None:
    with pytest.raises(PlanError, match="1001 characters"):
        read_formula(" " * LONGEST + "1")


def test_names_that_stand_for_nothing_are_told_together() -> None:
    """Each with its column, what there is, and what was probably meant."""
    formula = read_formula("base - om_pc * k + min")
    known = {"om_pct": "a field", "base": "a constant"}
    with pytest.raises(Problems) as caught:
        check_names(formula, known)
    first, second, third = caught.value.each
    assert "column 8, at om_pc)" in first.problem
    assert 'Did you mean "om_pct"? There is om_pct (a field), base (a constant).' in first.remedy
    assert "column 16, at k)" in second.problem
    assert "min is a function: write min(...)" in third.remedy


def test_a_known_name_is_no_fault() -> None:
    check_names(read_formula("base - om"), {"om": "a field", "base": "a constant"})


@pytest.mark.parametrize(
    ("text", "filled"),
    [
        pytest.param("20 - 2 * om", "20 - 2 * 2.4", id="in its place"),
        pytest.param("om-t", "2.4-(-1)", id="below 0 in brackets"),
        pytest.param("max(`OM %`, om)", "max(7, 2.4)", id="in backticks"),
        pytest.param("om\n   + 1", "2.4 + 1", id="on one line"),
    ],
)
def test_numbers_are_put_in_for_names(text: str, filled: str) -> None:
    assert read_formula(text).filled_in({"om": "2.4", "t": "-1", "OM %": "7"}) == filled


def test_a_formula_survives_pickling() -> None:
    """A batch sends it between processes."""
    formula = pickle.loads(pickle.dumps(read_formula("20 - 2 * om")))
    assert formula.filled_in({"om": "1"}) == "20 - 2 * 1"


@given(TEXTS)
@example("((" * 10 + "om" + "))" * 10)
@example("(" * 20 + "om" + "," * 5)
@example("om**" * 300 + "om")
@example("min(" * 20 + "1, 1" + ", 1)" * 20)
@example("1 if " * 60 + "om > 1" + " else 1" * 60)
@settings(max_examples=1500)
def test_any_text_is_a_harmless_formula_or_an_error(text: str) -> None:
    """The tree holds numbers, names, signs and calls of the functions that there are, and nothing else.

    It takes far less than a second, whatever stands there.
    """
    start = time.process_time()
    formula, refused = None, None
    try:
        formula = read_formula(text)
    except PlanError as err:
        refused = err
    assert time.process_time() - start < 1.0
    if formula is None:
        assert refused
        assert refused.problem
        assert refused.remedy
        assert "\n" not in str(refused)
        return
    nodes = list(ast.walk(formula.tree))
    assert all(isinstance(node, SAFE) for node in nodes)
    calls = [node for node in nodes if isinstance(node, ast.Call)]
    assert all(isinstance(call.func, ast.Name) and call.func.id in FUNCTIONS and not call.keywords for call in calls)
    names = {node.id for node in nodes if isinstance(node, ast.Name)}
    assert names <= set(formula.names) | set(FUNCTIONS)
    assert len(nodes) < 1200
