"""``vrx demo``: the main job on a sample field."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from vrx.cli.build import show
from vrx.cli.say import say, typed

if TYPE_CHECKING:
    from vrx.cli.parsers import Commands


def add(commands: Commands) -> None:
    command = commands.add_parser(
        "demo",
        help="copy a sample field and build it",
        description="Copy a sample field into a folder, build its prescription, and say where to look.",
    )
    command.add_argument("folder", metavar="DIR", nargs="?", default="vrx-demo", help="default: vrx-demo")
    command.add_argument("--field", metavar="NAME", default="", help="which sample field")
    command.add_argument("--json", action="store_true", help="print one JSON object on standard output")
    command.add_argument("--force", action="store_true", help="write over a demo that is there")
    command.set_defaults(run=run)


def run(found: argparse.Namespace) -> int:
    from vrx.runs.build import build
    from vrx.runs.samples import DEMO_FIELD, copy_sample, sample_names

    plan = copy_sample(found.field or DEMO_FIELD, Path(found.folder), force=found.force)
    built = build(plan, force=found.force)
    code = show(built, as_json=found.json)
    if not found.json:
        others = ", ".join(name for name in sample_names() if name != (found.field or DEMO_FIELD))
        say(f"\nThe plan is {plan}: change it, and run  {typed('build', str(plan), '--force')}")
        say(f"Its story is in {plan.parent / 'README.md'}. Other samples, with --field: {others}")
    return code
