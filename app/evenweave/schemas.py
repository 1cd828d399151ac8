"""What users hand in as JSON, held against the shipped schemas; what is wrong, in a sentence.

Beside the usual words of a schema a value may have `words`: what it must be, for a person.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from typing import Any

from evenweave.places import resource

Schema = dict[str, Any]
_KINDS = {"string": "text", "array": "a list", "object": "an object", "number": "a number"}


@dataclass(frozen=True)
class Complaint:
    """What is wrong, and where: "note 3, state"."""

    place: str
    cause: str


def complaint_of(value: Any, schema: str) -> Complaint | None:
    """Return the first thing in which a value does not fit a schema of the resources."""
    from fastjsonschema import JsonSchemaValueException

    try:
        _validator(schema)(value)
    except JsonSchemaValueException as wrong:
        return _told(wrong, _schema(schema))
    return None


@cache
def _schema(name: str) -> Schema:
    schema: Schema = json.loads(resource(name).read_text(encoding="utf-8"))
    return schema


@cache
def _validator(name: str) -> Callable[[Any], Any]:
    import fastjsonschema

    made: Callable[[Any], Any] = fastjsonschema.compile(deepcopy(_schema(name)), use_default=False)
    return made


def _told(wrong: Any, schema: Schema) -> Complaint:
    path = [str(step) for step in wrong.path[1:]]
    if wrong.rule == "required":
        missing = next(name for name in wrong.rule_definition if name not in wrong.value)
        return Complaint(_place([*path, missing]), "it is missing")
    ends = list(_wordings(schema, path))
    words = ends[-1] if ends else _words(wrong.definition)
    while path and path[-1].isdecimal() and len(path) > 2:
        path.pop()
    return Complaint(_place(path), f"it must be {words}")


def _place(path: list[str]) -> str:
    """Write ["notes", "0", "place", "uv"] as "note 1, uv"."""
    told: list[str] = []
    for step in path:
        if step.isdecimal() and told:
            told[-1] = f"{told[-1].removesuffix('s')} {int(step) + 1}"
        elif step != "place":
            told.append(step)
    return ", ".join(told)


def _wordings(schema: Schema, path: list[str]) -> Iterator[str]:
    """Yield what is said on the way to a value, but for what its last named field does not say."""
    at: Schema = schema
    for step in path:
        at = at.get("items", {}) if step.isdecimal() else at.get("properties", {}).get(step, {})
        own = at.get("words")
        at = _resolved(schema, at)
        if words := own or at.get("words"):
            yield words
        elif not step.isdecimal() or at.get("type") == "object":
            yield _words(at)


def _resolved(schema: Schema, at: Schema) -> Schema:
    while "$ref" in at:
        target: Any = schema
        for name in at["$ref"].removeprefix("#/").split("/"):
            target = target[name]
        at = target
    return at


def _words(at: Schema) -> str:
    if "enum" in at:
        return f"one of {', '.join(map(str, at['enum']))}"
    if "const" in at:
        return str(at["const"])
    kinds = at.get("type", "something else")
    first = str(kinds[0] if isinstance(kinds, list) else kinds)
    return _KINDS.get(first, first)
