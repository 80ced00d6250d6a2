"""Rates by a formula: decimal arithmetic on the fields of a zone layer, once for each set of numbers."""

from __future__ import annotations

import ast
import operator
from collections.abc import Callable, Iterable, Mapping
from decimal import (
    ROUND_CEILING,
    ROUND_FLOOR,
    ROUND_HALF_UP,
    Context,
    Decimal,
    DecimalException,
    DivisionByZero,
    InvalidOperation,
    Overflow,
)
from fractions import Fraction
from math import nan
from typing import Any, Final, NamedTuple

import numpy as np

from vrx.dosing.conversion import conversion_to_product
from vrx.formula import Formula
from vrx.model.layer import BadCell, Numbers
from vrx.model.product import Product
from vrx.rates.wanted import Wanted
from vrx.units import LARGEST_NUMBER, Unit
from vrx.words import visible

# Digits enough that thirds add up to one within what comparisons and rounding look at.
_DIGITS: Final = 34
_LARGEST_EXPONENT: Final = 300
_LOOKED_AT: Final = Decimal("1e-15")
_BEYOND_DECIMALS: Final = Decimal("1e15")

# The nodes of a tree that simpleeval is left to walk; its own list has attributes, indices and texts too.
_NODES: Final = (ast.Constant, ast.Name, ast.UnaryOp, ast.BinOp, ast.BoolOp, ast.Compare, ast.IfExp, ast.Call)

_NOTHING_THERE: Final = ("empty", "no-data-code")

_Work = Callable[..., Decimal]


class _Row(NamedTuple):
    """What the formula makes of one set of numbers: the rate, or why there is none."""

    rate: float
    inputs: str
    worked: str = ""
    fault: str = ""


def by_formula(
    formula: Formula,
    columns: Mapping[str, Numbers],
    constants: Mapping[str, float],
    unit: Unit,
    product: Product,
    *,
    count: int,
) -> Wanted:
    """Work out the rate of every polygon from its numbers.

    Parameters
    ----------
    columns : mapping of str to Numbers
        Every field that the formula reads, by name. A polygon without a number in one of them has no rate.
    constants : mapping of str to float
        The other names of the formula.
    unit : Unit
        Of the result.
    count : int
        Polygons of the zone layer; a formula may read no field at all.

    Returns
    -------
    Wanted
        ``values`` is NaN throughout, since there may be several numbers; ``worked`` has the sum with its numbers.

    Raises
    ------
    UnitError
        The unit can't be turned into that of the product's step.

    Notes
    -----
    A number of the layer that is a decimal of up to six digits once both are held in 32 bits is taken for that
    decimal, as breaks take it. Comparisons and rounding look at 15 decimals. Source: docs/decisions/formulas.md.
    """
    conversion = conversion_to_product(unit, product)
    fields = [name for name in formula.names if name not in constants]
    bad = _missing(columns[name] for name in fields)
    numbers = np.column_stack([columns[name].values for name in fields]) if fields else np.empty((count, 0))
    arithmetic = _Arithmetic(formula, constants, unit)
    known: dict[tuple[float, ...], _Row] = {}
    rows = []
    for at, values in enumerate(map(tuple, numbers.tolist())):
        if at in bad:
            rows.append(_Row(nan, ""))
            continue
        if values not in known:
            known[values] = arithmetic.row(dict(zip(fields, values, strict=True)), conversion.factor)
        row = known[values]
        rows.append(row)
        if row.fault:
            bad[at] = BadCell(index=at, text=row.fault, kind="formula-failed")
    return Wanted(
        rates=np.array([row.rate for row in rows], dtype=np.float64),
        inputs=tuple(row.inputs for row in rows),
        values=np.full(count, np.nan),
        bad=tuple(bad[at] for at in sorted(bad)),
        sums=conversion.steps,
        worked=tuple(row.worked for row in rows),
    )


def _missing(columns: Iterable[Numbers]) -> dict[int, BadCell]:
    """Return the polygons without a number in a field, each once: what is no number at all before what is empty."""
    found: dict[int, BadCell] = {}
    for column in columns:
        for cell in column.bad:
            before = found.get(cell.index)
            if before is None or (before.kind in _NOTHING_THERE and cell.kind not in _NOTHING_THERE):
                found[cell.index] = BadCell(index=cell.index, text=cell.text, kind=cell.kind, of=column.name)
    return found


class _Arithmetic:
    """A formula ready to be worked out, with signs and functions on decimals.

    Every operation takes some microseconds whatever its numbers, since they have 34 digits and an exponent up to 300.
    """

    def __init__(self, formula: Formula, constants: Mapping[str, float], unit: Unit) -> None:
        # It takes 20 ms to load, and few plans have a formula.
        from simpleeval import SimpleEval  # noqa: PLC0415

        self._formula, self._unit = formula, unit
        self._constants = {name: Decimal(repr(float(value))) for name, value in constants.items()}
        self._context = Context(
            prec=_DIGITS,
            Emax=_LARGEST_EXPONENT,
            Emin=-_LARGEST_EXPONENT,
            traps=[InvalidOperation, DivisionByZero, Overflow],
        )
        self._eval = SimpleEval(operators=self._operators(), functions=self._functions(), names={})
        self._eval.nodes = {kind: self._eval.nodes[kind] for kind in _NODES}

    def row(self, values: Mapping[str, float], factor: Fraction) -> _Row:
        """Work out the rate for one set of numbers, in the unit of the step."""
        numbers = {name: _as_entered(value) for name, value in values.items()}
        inputs = ", ".join(f"{visible(name)} {_text(number)}" for name, number in numbers.items())
        self._eval.names = {**self._constants, **numbers}
        try:
            result = self._eval.eval(self._formula.text, self._formula.tree)
        except ArithmeticError as err:
            return _Row(nan, inputs, fault=_fault(inputs, str(err)))
        if abs(result) > LARGEST_NUMBER:
            return _Row(nan, inputs, fault=_fault(inputs, f"{_text(result)} is beyond any rate"))
        filled = self._formula.filled_in({name: _text(number) for name, number in self._eval.names.items()})
        return _Row(float(Fraction(result) * factor), inputs, f"{filled} = {_text(result)} {self._unit.name}")

    def _operators(self) -> dict[type, Callable[..., Any]]:
        context = self._context
        signs: dict[type, tuple[str, _Work]] = {
            ast.Add: ("+", context.add),
            ast.Sub: ("-", context.subtract),
            ast.Mult: ("*", context.multiply),
            ast.Div: ("/", context.divide),
            ast.Pow: ("**", context.power),
        }
        compares: dict[type, Callable[[Decimal, Decimal], bool]] = {
            ast.Eq: operator.eq,
            ast.NotEq: operator.ne,
            ast.Lt: operator.lt,
            ast.LtE: operator.le,
            ast.Gt: operator.gt,
            ast.GtE: operator.ge,
        }
        return {
            **{node: _sign(sign, work) for node, (sign, work) in signs.items()},
            **{node: self._compare(work) for node, work in compares.items()},
            ast.USub: context.minus,
            ast.UAdd: context.plus,
            ast.Not: operator.not_,
        }

    def _functions(self) -> dict[str, _Work]:
        context = self._context
        plain: dict[str, _Work] = {
            "min": min,
            "max": max,
            "abs": context.abs,
            "sqrt": context.sqrt,
            "exp": context.exp,
            "ln": context.ln,
            "log10": context.log10,
            "round": self._round,
            "floor": lambda value: self._looked_at(value).to_integral_value(ROUND_FLOOR),
            "ceil": lambda value: self._looked_at(value).to_integral_value(ROUND_CEILING),
        }
        return {name: _function(name, work) for name, work in plain.items()}

    def _compare(self, work: Callable[[Decimal, Decimal], bool]) -> Callable[[Decimal, Decimal], bool]:
        return lambda left, right: work(self._looked_at(left), self._looked_at(right))

    def _round(self, value: Decimal, decimals: Decimal = Decimal(0)) -> Decimal:
        """Round as on paper: a tie goes away from 0."""
        if abs(value) >= _BEYOND_DECIMALS:
            return value
        last = Decimal(1).scaleb(-int(decimals))
        return self._looked_at(value).quantize(last, ROUND_HALF_UP, self._context)

    def _looked_at(self, value: Decimal) -> Decimal:
        """Return a number without what the 34th digit of a third leaves over."""
        return value if abs(value) >= _BEYOND_DECIMALS else value.quantize(_LOOKED_AT, context=self._context)


def _sign(sign: str, work: _Work) -> _Work:
    return _told(lambda left, right: f"{_operand(left)} {sign} {_operand(right)}", work)


def _function(name: str, work: _Work) -> _Work:
    return _told(lambda *values: f"{name}({', '.join(map(_text, values))})", work)


def _told(said: Callable[..., str], work: _Work) -> _Work:
    """Return the same work, which says what it was about where it has no result."""

    def run(*values: Decimal) -> Decimal:
        try:
            found = work(*values)
        except Overflow:
            raise ArithmeticError(f"{said(*values)} is beyond any number here") from None
        except DivisionByZero:
            raise ArithmeticError(f"{said(*values)} divides by zero") from None
        except DecimalException:
            raise ArithmeticError(f"{said(*values)} has no value") from None
        if not found.is_finite():
            raise ArithmeticError(f"{said(*values)} has no value")
        return found

    return run


def _as_entered(value: float) -> Decimal:
    """Read 3.299999952316284 as 3.3: it is what 32 bits make of the number that somebody entered."""
    short = f"{value:.6g}"
    if 1e-30 < abs(value) < 1e30 and np.float32(value) == np.float32(float(short)):
        return Decimal(short)
    return Decimal(repr(value))


def _fault(inputs: str, why: str) -> str:
    return f"{inputs}: {why}" if inputs else why


def _operand(value: Decimal) -> str:
    return f"({_text(value)})" if value < 0 else _text(value)


def _text(value: Decimal) -> str:
    return f"{float(value):.10g}"
