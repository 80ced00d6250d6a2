"""Tables as CSV that people open in a spreadsheet."""

from __future__ import annotations

import math
import numbers
import re
from collections.abc import Iterable, Sequence
from typing import Final

from vrx.errors import OutputError

# A text cell that begins with one of these is run as a formula. Source: OWASP, "CSV Injection"; the wide forms too.
_FORMULA: Final = tuple("=+-@\t\r\n＝＋－＠")
# A semicolon divides cells where the decimal mark is a comma, so it is quoted as well.
_QUOTED: Final = re.compile(r'[",;\r\n\t]|^\s|\s$')


def ledger_csv(header: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    r"""Return a table as CSV: plain UTF-8, ``\r\n``, quotes where needed.

    Source: RFC 4180.

    Parameters
    ----------
    header : sequence of str
    rows : iterable of sequences
        As long as the header. Numbers keep full precision; None is an empty cell; everything else is text, and a
        text that a spreadsheet would run as a formula gets an apostrophe in front.

    Raises
    ------
    OutputError
        A row of another length, or a number that is not finite.

    Examples
    --------
    >>> ledger_csv(["zone", "rate_lb_ac"], [["=A1", 0.1], ["-", -2]])
    b"zone,rate_lb_ac\r\n'=A1,0.1\r\n'-,-2\r\n"
    """
    lines = [",".join(_cell(text, "the header") for text in header)]
    for number, row in enumerate(rows, start=1):
        if len(row) != len(header):
            raise OutputError(f"Row {number} of a table has {len(row)} cells, and its header has {len(header)}.")
        lines.append(",".join(_cell(cell, f"row {number}, {name}") for cell, name in zip(row, header, strict=True)))
    return "".join(f"{line}\r\n" for line in lines).encode("utf-8", errors="backslashreplace")


def _cell(value: object, where: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value)
    # The plain type first: asking for the abstract one takes longer than writing the number.
    if type(value) is float and math.isfinite(value):
        return repr(value)
    if not isinstance(value, str) and isinstance(value, numbers.Real):
        return _number(value, where)
    text = str(value)
    if text.startswith(_FORMULA):
        text = f"'{text}"
    return '"' + text.replace('"', '""') + '"' if _QUOTED.search(text) else text


def _number(value: numbers.Real, where: str) -> str:
    if isinstance(value, numbers.Integral):
        return str(int(value))
    number = float(value)
    if not math.isfinite(number):
        raise OutputError(f"A table holds {number} in {where}; only finite numbers can be written.")
    return repr(number)
