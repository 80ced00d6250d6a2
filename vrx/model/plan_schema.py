"""The keys of a plan as JSON Schema, and words for what each accepts.

Editors, the reference page and the reader's error messages all take their words from here, and this is
made from the models, so that none of them says something else than what is checked.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from vrx.model.keys import KeyPath
from vrx.model.plan import Plan

Node = Mapping[str, Any]

DRAFT = "https://json-schema.org/draft/2020-12/schema"


class _Generator(GenerateJsonSchema):
    """TOML has no null: a key that may be None may be left out instead."""

    schema_dialect = DRAFT

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        made = super().default_schema(schema)
        if made.get("default", "") in (None, "", [], {}):
            made.pop("default", None)
        return made

    def field_title_should_be_set(self, schema: Any) -> bool:  # noqa: ARG002 - the key is its own title
        return False


def plan_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a plan, made from the model.

    Checks that need several keys at once, and units, are left to the reader; paths are not looked up.
    """
    schema = _made()
    product = schema["$defs"]["Product"]
    needed = [key for key in product["required"] if key != "name"]
    # A shared product may hold what the plan's [[product]] leaves out, and all products may be shared.
    product["required"] = ["name"]
    schema["required"].remove("product")
    schema["if"] = {"properties": {"products": {"const": ""}}}
    schema["then"] = {"required": ["product"], "properties": {"product": {"items": {"required": needed}}}}
    later = schema["$defs"].pop("RateNotYet")
    ways = schema["properties"]["rate"]["items"]
    ways["oneOf"] = [way for way in ways["oneOf"] if way["$ref"] != "#/$defs/RateNotYet"]
    del ways["discriminator"]["mapping"][later["properties"]["by"]["const"]]
    return {"$schema": DRAFT, "title": "vrx plan", **{key: schema[key] for key in schema if key != "title"}}


def whole_schema() -> Node:
    """Return the schema of a plan as the model checks it, shared files merged in."""
    return _made()


def _made() -> dict[str, Any]:
    made: dict[str, Any] = json.loads(_text())  # a fresh one: callers may change theirs
    return made


@lru_cache(maxsize=1)
def _text() -> str:
    return json.dumps(Plan.model_json_schema(by_alias=True, schema_generator=_Generator))


def node_at(schema: Node, path: KeyPath, value: Any = None) -> Node | None:
    """Return the part of a schema for a path of a plan, or None where the plan knows no such key.

    Parameters
    ----------
    schema : mapping
        From :func:`whole_schema`.
    path : tuple of str and int
    value : object
        The plan as given: which way a [[rate]] goes is told by its ``by``.
    """
    node: Node | None = _resolved(schema, schema, value)
    for step in path:
        if node is None:
            return None
        value = inside(value, (step,))
        node = _child(node, step)
        node = None if node is None else _resolved(schema, node, value)
    return node


def keys_of(node: Node) -> tuple[str, ...]:
    """Return the keys of a table."""
    return tuple(node.get("properties", ()))


def is_table(node: Node) -> bool:
    """Tell whether a key is a table with keys of its own, ``[field]``."""
    return "properties" in node or "$ref" in node or any("$ref" in one for one in _choices_of_kind(node))


def is_tables(node: Node) -> bool:
    """Tell whether a key is a list of tables with keys of their own, ``[[product]]``."""
    items = node.get("items", {})
    return "$ref" in items or "discriminator" in items


def choices_of(node: Node) -> tuple[str, ...]:
    """Return the words that a key accepts, where it accepts only some."""
    if "const" in node:
        return (str(node["const"]),)
    if "enum" in node:
        return tuple(map(str, node["enum"]))
    if "discriminator" in node:
        return tuple(by for by in node["discriminator"]["mapping"] if by != "method")
    return ()


def accepts(node: Node) -> str:
    """Say what a key accepts, in words with an example: ``text with its unit, such as "60 ft" or "18 m"``."""
    examples = " or ".join(toml_text(one) for one in node.get("examples", ()))
    such_as = f", such as {examples}" if examples else ""
    choices = choices_of(node)
    if choices:
        return _or([f'"{word}"' for word in choices])
    kind = node.get("type")
    if kind == "boolean":
        return "true or false"
    if kind in ("integer", "number"):
        return f"{'a whole number' if kind == 'integer' else 'a number'}{_range(node)}{such_as}"
    if kind == "string":
        return _text_words(node, examples)
    if kind == "array" or (kind is None and "prefixItems" in node):
        return _list_words(node) + such_as
    if kind == "object":
        return f"a table{such_as}"
    if _choices_of_kind(node):
        return _or([accepts(one) for one in _choices_of_kind(node)]) + such_as
    return "another value"


def toml_text(value: object) -> str:
    """Return a value as a plan writes it on one line: ``{ N = "32 %" }``, ``[1.5, "24 gal/ac"]``, ``true``."""
    if isinstance(value, Mapping):
        inner = (f"{_toml_key(str(key))} = {toml_text(one)}" for key, one in value.items())
        return f"{{ {', '.join(inner)} }}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(toml_text, value))}]"
    # JSON and TOML write text, numbers, true and false alike.
    return json.dumps(value, ensure_ascii=False)


def _toml_key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key, ensure_ascii=False)


def _text_words(node: Node, examples: str) -> str:
    if node.get("format") == "date":
        return "a date, such as 2027-04-12"
    such_as = f", such as {examples}" if examples else ""
    return f"{'text with its unit' if 'pattern' in node else 'text'}{such_as}"


def _list_words(node: Node) -> str:
    if "prefixItems" in node:
        return f"a list of {len(node['prefixItems'])} values"
    choices = choices_of(node.get("items", {}))
    if choices:
        return f"a list of {_or([f'{chr(34)}{word}{chr(34)}' for word in choices])}"
    return "a list"


def _range(node: Node) -> str:
    low, high = node.get("minimum"), node.get("maximum")
    if low is not None and high is not None:
        return f" from {low} to {high}"
    return f" of at least {low}" if low is not None else ""


def _or(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _resolved(schema: Node, node: Node, value: Any) -> Node:
    """Follow references, keeping what stands beside them, and take the way that a [[rate]] names."""
    while True:
        if "$ref" in node:
            found = schema["$defs"][node["$ref"].rsplit("/", 1)[1]]
            node = {**found, **{key: inner for key, inner in node.items() if key != "$ref"}}
            continue
        several = [one for one in _choices_of_kind(node) if is_tables(one)]
        if several and isinstance(value, list):
            node = several[0]
            continue
        choices = [one for one in _choices_of_kind(node) if "$ref" in one or "additionalProperties" in one]
        if any("$ref" in one for one in choices):
            # A table, or a table of such tables by name.
            named = isinstance(value, Mapping) and value and all(isinstance(one, Mapping) for one in value.values())
            node = next(one for one in choices if ("additionalProperties" in one) is bool(named))
            continue
        ways = node.get("discriminator", {}).get("mapping", {})
        by = inside(value, ("by",))
        if isinstance(by, str) and by in ways:
            node = {"$ref": ways[by]}
            continue
        return node


def _child(node: Node, step: str | int) -> Node | None:
    for one in _choices_of_kind(node) or (node,):
        found = _own_child(one, step)
        if found is not None:
            return found
    return None


def _choices_of_kind(node: Node) -> tuple[Node, ...]:
    return () if "discriminator" in node else (*node.get("anyOf", ()), *node.get("oneOf", ()))


def _own_child(node: Node, step: str | int) -> Node | None:
    found: Node | None = None
    if isinstance(step, int):
        before = node.get("prefixItems", ())
        found = before[step] if step < len(before) else node.get("items")
    elif step in node.get("properties", {}):
        found = node["properties"][step]
    elif isinstance(node.get("additionalProperties"), dict):
        found = node["additionalProperties"]
    return found if isinstance(found, Mapping) else None


def inside(value: Any, path: KeyPath, otherwise: Any = None) -> Any:
    """Return what stands at a path of nested tables and lists, or ``otherwise`` where nothing does."""
    for step in path:
        try:
            value = value[step]
        except (KeyError, IndexError, TypeError):
            return otherwise
    return value
