"""Texts that may stand where a formula should: scraps of Python, of spreadsheets, and anything else."""

from __future__ import annotations

from hypothesis import strategies as st

PIECES = st.sampled_from(
    [
        "1", "0", "9", ".5", "1e9", "1e99", "99999999", "om", "`a b`", "__class__", "__import__", "os", "eval", "self",
        "+", "-", "*", "/", "**", "//", "%", "^", "~", "@", "<", ">", "<=", "==", "!=", "=", ":=", "<<", ">>", "&", "|",
        "(", ")", "((", "))", "[", "]", "{", "}", ",", ".", ":", ";", "'", '"', "`", "\\", "\n", "#", " ", "\t", "\x00",
        " if ", " else ", " and ", " or ", " not ", " in ", " is ", " for x in ", "lambda x: ", "await ", "yield ",
        "min(", "max(", "abs(", "sqrt(", "exp(", "ln(", "log(", "round(", "floor(", "ceil(", "print(", "open(",
        "f'{om}'", "om.__class__", "().__class__.__bases__[0]", "__import__('os').system('x')", "[om for om in om]",
        "9**9**9**9", "(lambda: 1)()", "globals()", "é", "²", "٣", "\u202e", "😀",
    ]
)  # fmt: skip
TEXTS = st.one_of(
    st.text(max_size=60),
    st.lists(PIECES, max_size=25).map("".join),
    st.lists(PIECES, max_size=25).map(" ".join),
    st.tuples(PIECES, st.integers(1, 1500)).map(lambda pair: pair[0] * pair[1]),
)
