"""Formulas: from the text in a plan to a checked tree, or an error that says where the fault is.

The grammar is arithmetic as Python writes it, cut down to numbers, names, ``+ - * / **``, brackets, comparisons, a
choice, and a handful of functions. Text becomes words of a fixed kind here, and Python's parser sees nothing but
numbers, stand-ins for names, and the signs listed below: there is no attribute, text, index or assignment to refuse
later. :mod:`vrx.rates.by_formula` does the arithmetic.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

from vrx.errors import PlanError, Problems
from vrx.words import nearest, some, visible

FUNCTIONS: Final[Mapping[str, tuple[int, int]]] = {
    "min": (2, 20), "max": (2, 20), "abs": (1, 1), "sqrt": (1, 1), "exp": (1, 1), "ln": (1, 1), "log10": (1, 1),
    "round": (1, 2), "floor": (1, 1), "ceil": (1, 1),
}  # fmt: skip
"""What a formula may call, with the fewest and the most values it takes."""

LONGEST: Final = 1000
"""Characters of a formula."""

_MOST_WORDS: Final = 250
_MOST_BRACKETS: Final = 20
_DEEPEST: Final = 100
# These cost a hundred times what a product costs, and each is done on every zone that differs from the others.
_MOST_SLOW: Final = 10
_SLOW: Final = ("exp", "ln", "log10")

_CHOICE: Final = "Write a choice as 20 if om > 3 else 10."
_HINTS: Final = {
    "^": "Write ** for a power.",
    "//": "Write floor(a / b).",
    "=": "Write == to compare.",
    "%": "Write 0.32 for 32 %.",
    "&": "Write and.",
    "|": "Write or.",
    "!": "Write not, or != to compare.",
    "×": "Write * to multiply.",
    "·": "Write * to multiply.",
    "÷": "Write / to divide.",
    "−": "Write the sign on the keyboard, -.",
    "–": "Write the sign on the keyboard, -.",
    "²": "Write ** 2.",
    '"': "Write a name that is more than letters, digits and _ in backticks, as in `OM %`.",
    "'": "Write a name that is more than letters, digits and _ in backticks, as in `OM %`.",
    ".": "Write a name with a point in backticks, as in `soil.om`.",
}

_WORD: Final = re.compile(
    r"""(?P<space>\s+)
    |(?P<number>(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2}(?![0-9]))?)
    |(?P<name>[^\W\d]\w*)
    |`(?P<quoted>[^`]*)`
    |(?P<sign>\*\*|<=|>=|==|!=|/(?!/)|[-+*<>(),])""",
    re.VERBOSE,
)
_KEYWORDS: Final = ("if", "else", "and", "or", "not")

_Kind = Literal["number", "name", "function", "sign"]


@dataclass(frozen=True, slots=True)
class Word:
    """One word of a formula: what it is, what it says, and where it stands in the text."""

    kind: _Kind
    text: str
    start: int
    end: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """A formula that can be worked out; :func:`read_formula` makes it.

    Attributes
    ----------
    text : str
        As the plan has it.
    words : tuple of Word
    tree : ast.expr
        Numbers, names, signs and calls of :data:`FUNCTIONS` only; numbers are :class:`decimal.Decimal`.
    """

    text: str
    words: tuple[Word, ...]
    tree: ast.expr

    @property
    def names(self) -> tuple[str, ...]:
        """What the formula reads, each once, in order."""
        return tuple(dict.fromkeys(word.text for word in self.words if word.kind == "name"))

    def filled_in(self, numbers: Mapping[str, str]) -> str:
        """Return the formula with numbers in the place of names, one below 0 in brackets.

        Examples
        --------
        >>> read_formula("20 - 2 * om").filled_in({"om": "2.4"}), read_formula("3-t").filled_in({"t": "-1"})
        ('20 - 2 * 2.4', '3-(-1)')
        """
        parts, done = [], 0
        for word in self.words:
            if word.kind == "name":
                number = numbers[word.text]
                parts += [self.text[done : word.start], f"({number})" if number.startswith("-") else number]
                done = word.end
        return " ".join("".join((*parts, self.text[done:])).split())


def read_formula(text: str) -> Formula:
    """Read a formula such as ``20 - 2 * om_pct`` or ``min(30, base / `OM %`) if ph > 6 else 0``.

    Raises
    ------
    PlanError
        It can't be read, or is too long; with the column of the fault.
    """
    if len(text) > LONGEST:
        raise PlanError(f"The formula has {len(text)} characters.", remedy=f"Use at most {LONGEST}.")
    words = tuple(_words(text))
    if len(words) > _MOST_WORDS:
        raise _fault(
            text, words[_MOST_WORDS], "the formula gets too long", f"Use at most {_MOST_WORDS} words and signs."
        )
    _check_order(text, words)
    tree = _parsed(text, words)
    _Check(text, words).number(tree)
    return Formula(text=text, words=words, tree=tree)


def check_names(formula: Formula, known: Mapping[str, str]) -> None:
    """Refuse names that stand for nothing, all of them at once.

    Parameters
    ----------
    known : mapping of str to str
        What there is, and what it is in words.

    Raises
    ------
    VrxError
        With the column of each and what was probably meant.
    """
    strange = {word.text: word for word in reversed(formula.words) if word.kind == "name" and word.text not in known}
    errors = [_unknown(formula, word, known) for word in sorted(strange.values(), key=lambda one: one.start)]
    if errors:
        raise errors[0] if len(errors) == 1 else Problems(errors)


def _unknown(formula: Formula, word: Word, known: Mapping[str, str]) -> PlanError:
    called = f"{word.text} is a function: write {word.text}(...). " if word.text in FUNCTIONS else ""
    listed = some(f"{_spelled(name)} ({what})" for name, what in known.items())
    there = f"There is {listed}." if known else "There are no fields."
    return _fault(
        formula.text,
        word,
        "this is neither a field of the zone layer nor a constant",
        f"{called}{nearest(word.text, known)}{there}",
    )


def _spelled(name: str) -> str:
    """Return a name as a formula writes it."""
    found = _WORD.fullmatch(name)
    return name if found and found["name"] and name not in _KEYWORDS else f"`{visible(name)}`"


def _fault(text: str, at: Word | int, problem: str, remedy: str) -> PlanError:
    """Return the error for a fault at a word, or at an index of the text."""
    start, end = (at, at + 1) if isinstance(at, int) else (at.start, at.end)
    line = text.count("\n", 0, start) + 1
    column = start - (text.rfind("\n", 0, start) + 1) + 1
    place = f"line {line}, column {column}" if "\n" in text else f"column {column}"
    what = f", at {visible(text[start:end])}" if text[start:end].strip() else ""
    return PlanError(f"The formula can't be worked out ({place}{what}): {problem}.", remedy=remedy)


def _words(text: str) -> Iterator[Word]:
    at = 0
    while at < len(text):
        found = _WORD.match(text, at)
        if found is None or (found["quoted"] is not None and not found["quoted"].strip()):
            raise _strange(text, at)
        start, at = at, found.end()
        if found["space"]:
            continue
        if found["number"]:
            yield _number(text, start, at)
        elif found["sign"] or found["name"] in _KEYWORDS:
            yield Word("sign", found[0], start, at)
        elif found["name"]:
            called = text[at:].lstrip().startswith("(")
            yield Word("function" if called else "name", found[0], start, at)
        else:
            yield Word("name", found["quoted"].strip(), start, at)


def _number(text: str, start: int, end: int) -> Word:
    follows = text[end : end + 1]
    if follows.isalnum() or follows in {"_", ".", "`"}:
        raise _fault(text, end, "a number runs into what follows", "Write * to multiply, and a number in one piece.")
    if end - start > 30:
        raise _fault(text, start, "a number has too many digits", "Use at most 30.")
    return Word("number", text[start:end], start, end)


def _strange(text: str, at: int) -> PlanError:
    if text[at] == "`":
        return _fault(text, at, "a name in backticks is empty or never ends", "Write it as in `OM %`.")
    sign = next((one for one in _HINTS if text.startswith(one, at)), "")
    hint = _HINTS.get(sign, "Use numbers, names, + - * / **, brackets, comparisons, if and else.")
    if sign == "=" and not text[:at].strip():
        hint = "Leave it out: the formula alone is what is worked out."
    return _fault(text, at, "this has no place in a formula", hint)


def _check_order(text: str, words: tuple[Word, ...]) -> None:
    """Check that values and signs take turns and that brackets close: most slips are found here, where they are."""
    opened: list[tuple[Word, bool]] = []
    value_next = True
    for at, word in enumerate(words):
        if word.kind == "function":
            _check_function(text, word)
        starts_value = word.kind != "sign" or word.text in {"(", "not"}
        if starts_value and not value_next:
            small = word.text.casefold()
            hint = f"Write {small} in small letters." if small in _KEYWORDS else "Write * to multiply."
            raise _fault(text, word, "a sign is missing before this", "Write and not." if small == "not" else hint)
        if value_next and not starts_value and word.text not in {"+", "-"}:
            hint = _CHOICE if word.text in {"if", "else"} else "Write a number or a name."
            raise _fault(text, word, "a value is missing before this", hint)
        if word.kind == "sign":
            _check_brackets(text, word, opened, called=at > 0 and words[at - 1].kind == "function")
        value_next = word.kind == "function" or (word.kind == "sign" and word.text != ")")
    if value_next:
        raise _fault(text, len(text), "it ends where a value is needed", "Write a number or a name.")
    if opened:
        raise _fault(text, opened[-1][0], "this bracket is never closed", "Close it.")


def _check_brackets(text: str, word: Word, opened: list[tuple[Word, bool]], *, called: bool) -> None:
    if word.text == "(":
        opened.append((word, called))
        if len(opened) > _MOST_BRACKETS:
            raise _fault(text, word, "brackets are nested too deep", f"Use at most {_MOST_BRACKETS} levels.")
    elif word.text == ")":
        if not opened:
            raise _fault(text, word, "no bracket is open here", "Take it out, or open one before it.")
        opened.pop()
    elif word.text == ",":
        _check_comma(text, word, inside=bool(opened) and opened[-1][1])


def _check_comma(text: str, word: Word, *, inside: bool) -> None:
    if not inside:
        raise _fault(
            text, word, "a comma stands outside the brackets of a function", "Write the decimal mark as a point."
        )
    if text[word.start - 1].isdigit() and text[word.end : word.end + 1].isdigit():
        raise _fault(
            text,
            word,
            "the comma is read by some as a decimal mark",
            "Write the decimal mark as a point, and a space behind a comma between two values.",
        )


def _check_function(text: str, word: Word) -> None:
    if word.text in FUNCTIONS:
        return
    known = f"Functions are {', '.join(FUNCTIONS)}; write * to multiply."
    if word.text.casefold() == "if":
        known = _CHOICE
    elif word.text.casefold() in {"log", "lg"}:
        # The natural logarithm in books and programs, base 10 in spreadsheets: a rate may differ by a factor of 2.3.
        raise _fault(
            text, word, f"{word.text} is read in two ways", "Write ln for the natural logarithm or log10 for base 10."
        )
    raise _fault(text, word, "there is no such function", f"{nearest(word.text, FUNCTIONS)}{known}")


def _parsed(text: str, words: tuple[Word, ...]) -> ast.expr:
    """Let Python's parser find the structure, and put names and exact numbers back in."""
    columns: dict[int, int] = {}
    shown = ""
    for at, word in enumerate(words):
        columns[len(shown)] = at
        shown += {"number": "0", "name": f"n{at}", "function": f"n{at}", "sign": word.text}[word.kind] + " "
    try:
        tree = ast.parse(shown.rstrip(), mode="eval").body
    except SyntaxError as err:
        before = [at for column, at in columns.items() if column <= max(0, (err.offset or 1) - 1)]
        raise _fault(text, words[before[-1]], "this does not read as a formula", _CHOICE) from None
    for node in ast.walk(tree):
        if isinstance(node, ast.expr):
            # Each node remembers its first word, for whoever has to say where a fault is.
            node.col_offset = columns[node.col_offset]
        if isinstance(node, ast.Constant):
            node.value = Decimal(words[node.col_offset].text)  # type: ignore[assignment] # exact, unlike a float
        elif isinstance(node, ast.Name):
            node.id = words[node.col_offset].text
    return tree


class _Check:
    """A walk over the tree: only what is known, numbers where numbers belong, and not too deep."""

    def __init__(self, text: str, words: tuple[Word, ...]) -> None:
        self._text, self._words, self._slow = text, words, 0

    def number(self, node: ast.expr, depth: int = 0) -> None:
        """Check what has to be a number."""
        if depth > _DEEPEST:
            raise self._refused(node, "it is nested too deep", f"Use at most {_DEEPEST} levels.")
        match node:
            case ast.Constant() | ast.Name():
                pass
            case ast.UnaryOp(op=ast.USub() | ast.UAdd(), operand=operand):
                self.number(operand, depth + 1)
            case ast.BinOp(left=left, op=ast.Add() | ast.Sub() | ast.Mult() | ast.Div() | ast.Pow(), right=right):
                if isinstance(node.op, ast.Pow) and _whole(right) is None:
                    self._count(node)
                self.number(left, depth + 1)
                self.number(right, depth + 1)
            case ast.IfExp(test=test, body=body, orelse=orelse):
                self._condition(test, depth + 1)
                self.number(body, depth + 1)
                self.number(orelse, depth + 1)
            case ast.Call(func=ast.Name(id=name), args=values, keywords=[]):
                self._call(node, name, values, depth)
            case _:
                raise self._refused(
                    node,
                    "a comparison stands where a number is needed",
                    f"{_CHOICE} Put brackets around it where it is a part of a sum.",
                )

    def _condition(self, node: ast.expr, depth: int) -> None:
        if depth > _DEEPEST:
            raise self._refused(node, "it is nested too deep", f"Use at most {_DEEPEST} levels.")
        match node:
            case ast.UnaryOp(op=ast.Not(), operand=operand):
                self._condition(operand, depth + 1)
            case ast.BoolOp(values=values):
                for value in values:
                    self._condition(value, depth + 1)
            case ast.Compare(left=left, comparators=others):
                for value in (left, *others):
                    self.number(value, depth + 1)
            case _:
                raise self._refused(node, "a number stands where a comparison is needed", _CHOICE)

    def _call(self, node: ast.Call, name: str, values: list[ast.expr], depth: int) -> None:
        fewest, most = FUNCTIONS[name]
        if not fewest <= len(values) <= most:
            wanted = f"{fewest} value" if fewest == most else f"{fewest} to {most} values"
            raise self._refused(node, f"{name} takes {wanted}, not {len(values)}", "Separate values by commas.")
        if len(values) == 2 and name == "round" and _whole(values[1]) not in range(10):
            raise self._refused(values[1], "round takes a written number of decimals from 0 to 9", "As round(om, 1).")
        if name in _SLOW:
            self._count(node)
        for value in values:
            self.number(value, depth + 1)

    def _count(self, node: ast.expr) -> None:
        self._slow += 1
        if self._slow > _MOST_SLOW:
            raise self._refused(
                node,
                "too many powers and logarithms",
                f"Use at most {_MOST_SLOW} of exp, ln, log10 and powers other than a whole number.",
            )

    def _refused(self, node: ast.expr, problem: str, remedy: str) -> PlanError:
        return _fault(self._text, self._words[node.col_offset], problem, remedy)


def _whole(node: ast.expr) -> int | None:
    value: object = node.value if isinstance(node, ast.Constant) else None
    return int(value) if isinstance(value, Decimal) and value == int(value) else None
