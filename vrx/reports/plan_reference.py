"""The reference page of a plan's keys, made from the model."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any, Final

from vrx.model.plan_schema import Node, accepts, is_table, is_tables, whole_schema

_HEAD: Final = """\
# The keys of a plan

<!-- Made from the model by `vrx.reports.plan_reference.plan_reference`; a test says when it is stale. -->

A plan is a TOML file about one pass over one field.
Quantities are text with their unit, such as `"12 gal/ac"`; a bare number where a unit is needed is refused.
A key that is not on this page is refused too, so nothing is silently ignored.
Files are named relative to the file that names them.
A file of shared products or machines holds `[[product]]` or `[[machine]]` tables.
It may say `units` and `acre` of its own; where it does not, those of the plan hold.
What is needed in a `[[product]]` may stand in the shared file.
"""

_TABLES: Final = {
    "FieldOfPlan": "[field]",
    "KeepOut": "[[keep_out]]",
    "Product": "[[product]]",
    "ZonesOfPlan": "[zones], or [zones.NAME] for each of several",
    "RateByTable": '[[rate]] with by = "table"',
    "RateByColumn": '[[rate]] with by = "column"',
    "RateByBreaks": '[[rate]] with by = "breaks"',
    "RateByLine": '[[rate]] with by = "line"',
    "RateByFormula": '[[rate]] with by = "formula"',
    "Overlay": "[[overlay]]",
    "Machine": "[machine]",
    "Drive": "[[machine.drive]]",
    "Box": "[machine.tank]",
    "Receiver": "[receiver]",
    "Accept": "[[accept]]",
}


def plan_reference() -> str:
    """Return the page as Markdown: a table of keys for each table of a plan, in the order of a plan."""
    schema = whole_schema()
    parts = [_HEAD, *_section("The top of the plan", schema)]
    for name, title in _TABLES.items():
        parts += _section(title, schema["$defs"][name])
    parts += ["\n## Not there yet\n", '`by = "method"` in a `[[rate]]` is refused until a later version brings it.']
    return "\n".join(parts) + "\n"


def _section(title: str, node: Node) -> Iterator[str]:
    yield f"\n## {title}\n"
    yield f"{node['description'].splitlines()[0]}\n"
    yield "| key | what to write | unless said | what it is |"
    yield "|---|---|---|---|"
    needed = node.get("required", ())
    for key, inner in node["properties"].items():
        usual = "**needed**" if key in needed else _default(inner)
        yield f"| `{key}` | {_cell(_how(key, inner))} | {usual} | {_cell(inner.get('description', ''))} |"


def _how(key: str, node: Node) -> str:
    if is_tables(node):
        return f"[[{key}]] tables"
    several = f" or [[{key}]] tables" if any(is_tables(one) for one in node.get("anyOf", ())) else ""
    return f"a [{key}] table{several}" if is_table(node) else accepts(node)


def _default(node: Mapping[str, Any]) -> str:
    value = node.get("default")
    return "" if value is None or isinstance(value, dict) else f"`{json.dumps(value, ensure_ascii=False)}`"


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
