"""``vrx product``: the file of shared products."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from vrx.cli.say import complain, say, say_json
from vrx.errors import InputError

if TYPE_CHECKING:
    from vrx.cli.parsers import Commands
    from vrx.errors import VrxError
    from vrx.inputs.product_questions import Question


def add(commands: Commands) -> None:
    command = commands.add_parser(
        "product",
        help="add a product to a file of shared products",
        description="Work on a file of shared products, which plans name with products = FILE.",
    )
    actions = command.add_subparsers(title="actions", metavar="ACTION", required=True)
    adding = actions.add_parser(
        "add",
        help="ask for a product, and add it to the file",
        description="Ask for a product's entry a question at a time, check each answer, and add it to the end of the "
        "file; the rest of the file stays as it is. From a pipe each line is an answer, and the first that is refused "
        "is the end.",
    )
    adding.add_argument("--file", metavar="FILE", default="products.toml", help="default: products.toml")
    adding.add_argument("--json", action="store_true", help="print one JSON object on standard output")
    adding.set_defaults(run=run)


def run(found: argparse.Namespace) -> int:
    from vrx.runs.product import BACK, add_product

    is_asked = sys.stdin is not None and sys.stdin.isatty()
    if is_asked:
        complain(f"A product for {found.file}. Ctrl-C leaves the file as it is; {BACK} takes the last answer back.")
    added = add_product(Path(found.file), ask=_asked if is_asked else _read, refused=_refused if is_asked else None)
    if found.json:
        say_json({"file": str(added.path.resolve()), "product": dict(added.product)})
    else:
        say(f"Added to {added.path}:\n\n{added.text}\nMore keys of a product stand in a plan that vrx new starts.")
    return 0


def _asked(question: Question) -> str:
    complain(f"{question.key}: {question.text}")
    return _read(question)


def _read(_: Question) -> str:
    try:
        line = sys.stdin.readline() if sys.stdin is not None else ""
    except UnicodeDecodeError:
        raise InputError("The answers are not UTF-8.", remedy="Save them as UTF-8; nothing was written.") from None
    if not line:
        raise EOFError
    return line


def _refused(err: VrxError) -> None:
    complain(f"  {err}")
