"""Which encoding the text of a file is in, when the file says so badly or not at all."""

from __future__ import annotations

import codecs
import re
from collections.abc import Sequence
from typing import Final

from vrx.model.finding import Finding

LANGUAGE_DRIVERS: Final = {
    0x01: "cp437",
    0x02: "cp850",
    0x03: "cp1252",
    0x08: "cp865",
    0x09: "cp437",
    0x0A: "cp850",
    0x0B: "cp437",
    0x0D: "cp437",
    0x0E: "cp850",
    0x0F: "cp437",
    0x10: "cp850",
    0x11: "cp437",
    0x12: "cp850",
    0x13: "cp932",
    0x14: "cp850",
    0x15: "cp437",
    0x16: "cp850",
    0x17: "cp865",
    0x18: "cp437",
    0x19: "cp437",
    0x1A: "cp850",
    0x1B: "cp437",
    0x1C: "cp863",
    0x1D: "cp850",
    0x1F: "cp852",
    0x22: "cp852",
    0x23: "cp852",
    0x24: "cp860",
    0x25: "cp850",
    0x26: "cp866",
    0x37: "cp850",
    0x40: "cp852",
    0x4D: "cp936",
    0x4E: "cp949",
    0x4F: "cp950",
    0x50: "cp874",
    0x57: "cp1252",
    0x58: "cp1252",
    0x59: "cp1252",
    0x64: "cp852",
    0x65: "cp866",
    0x66: "cp865",
    0x67: "cp861",
    0x6A: "cp737",
    0x6B: "cp857",
    0x6C: "cp863",
    0x78: "cp950",
    0x79: "cp949",
    0x7A: "cp936",
    0x7B: "cp932",
    0x7C: "cp874",
    0x86: "cp737",
    0x87: "cp852",
    0x88: "cp857",
    0xC8: "cp1250",
    0xC9: "cp1251",
    0xCA: "cp1254",
    0xCB: "cp1253",
    0xCC: "cp1257",
}
"""Code page of the language driver byte of a dBASE file (from memory of the dBASE and FoxPro tables)."""


# Python's list has encodings that no table is in, such as hex.
_FOR_TEXT: Final = re.compile(r"utf-8|cp\d+|iso8859-\d+|koi8-[rtu]|mac-\w+|gb\w+|big5\w*|shift_jis\w*|euc_\w+|tis-620")


def named_encoding(text: str) -> str:
    r"""Return Python's name for an encoding as a ``.cpg`` file spells it; empty where it is not known.

    Examples
    --------
    >>> [named_encoding(text) for text in ("UTF-8", "1252", "ANSI 1252", "8859-1", "utf8\r\n", "?")]
    ['utf-8', 'cp1252', 'cp1252', 'iso8859-1', 'utf-8', '']
    """
    word = text.strip().strip("\0").lower().removeprefix("ansi").removeprefix("oem").strip()
    if word in {"65001", "cp65001"}:
        return "utf-8"
    if "8859" in word:
        word = "iso" + word[word.index("8859") :].replace("_", "-")
        word = word if "-" in word else f"{word[:7]}-{word[7:]}"
    for name in (word, f"cp{word}"):
        try:
            found = codecs.lookup(name).name if word and word.isascii() else ""
        except (LookupError, ValueError):
            continue
        return found if _FOR_TEXT.fullmatch(found) else ""
    return ""


def text_encoding(
    samples: Sequence[bytes], *, source: str, declared: str = "", driver: str = ""
) -> tuple[str, Finding | None]:
    """Settle the encoding of the texts of a file.

    Parameters
    ----------
    samples : sequence of bytes
        The texts, each as it stands; those of plain ASCII do not matter.
    source : str
        Name of the file, as people are told it.
    declared, driver : str
        Encoding that the file declares (``.cpg``), and the one that its language driver stands for.

    Returns
    -------
    encoding : str
        The declared one, else the driver's, else UTF-8 where everything is valid UTF-8, else Windows-1252.
    finding : Finding or None
        Where the text is not in what was declared, or the encoding had to be guessed.
    """
    odd = [sample for sample in samples if not sample.isascii()]
    if not odd:
        return declared or "utf-8", None
    if declared and all(_decodes(sample, declared) for sample in odd):
        return declared, None
    if all(_decodes(sample, "utf-8") for sample in odd):
        # Text that happens to be valid UTF-8 is UTF-8: single-byte text is so only by a rare accident.
        return "utf-8", None
    if driver and not declared and all(_decodes(sample, driver) for sample in odd):
        return driver, None
    blame = f"The .cpg file says {declared}, which the text is not in" if declared else "No file says the encoding"
    return "cp1252", Finding(
        id="encoding",
        severity="note",
        message=f"{source}: {blame}, so the text is read in the encoding Windows-1252 (cp1252).",
        remedy="Check the names with special letters; a .cpg file that says UTF-8 or 1252 settles it.",
    )


def _decodes(sample: bytes, encoding: str) -> bool:
    try:
        # A text cut at the width of its field may end within a letter.
        codecs.getincrementaldecoder(encoding)("strict").decode(sample, final=False)
    except (UnicodeDecodeError, LookupError):
        return False
    return True
