"""Typed look-ups in a glTF document: what is not of the right kind is a named problem."""

from __future__ import annotations

import math
from typing import Any

from evenweave.mesh.names import cleaned
from evenweave.mesh.place import Place

JsonObject = dict[str, Any]

_REQUIRED = object()
_LONGEST_SHOWN = 40
_LARGEST_EXACT = 1 << 53
_SINGULAR = {"meshes": "mesh", "bufferViews": "buffer view"}


def shown(value: object) -> str:
    """Return the value in a form short enough for a sentence."""
    text = cleaned(repr(value))
    return text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 1] + "…"


def integer(holder: JsonObject, key: str, place: Place, *, default: Any = _REQUIRED) -> Any:
    """Return holder[key] as an int from 0 to 2^53, or the default. 3.0 is 3, as JSON has it."""
    if key not in holder:
        return _default(key, place, default)
    value = holder[key]
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    is_whole = isinstance(value, int) and not isinstance(value, bool)
    if not is_whole or not 0 <= value <= _LARGEST_EXACT:
        raise place.problem(f"'{key}' should be a whole number, not {shown(holder[key])}")
    return value


def numbers(holder: JsonObject, key: str, place: Place, *, default: tuple[float, ...]) -> Any:
    """Return holder[key] as finite floats, as many as the default has, or the default."""
    if key not in holder:
        return default
    values = holder[key]
    if (
        not isinstance(values, list)
        or len(values) != len(default)
        or not all(_is_finite(value) for value in values)
    ):
        raise place.problem(f"'{key}' should be {len(default)} numbers, not {shown(values)}")
    return tuple(float(value) for value in values)


def text(holder: JsonObject, key: str) -> str:
    """Return holder[key] where it is a text that can be shown, else ""."""
    value = holder.get(key)
    return cleaned(value) if isinstance(value, str) else ""


def items(holder: JsonObject, key: str, place: Place) -> list[Any]:
    """Return the list holder[key]; empty if absent."""
    values = holder.get(key, [])
    if not isinstance(values, list):
        raise place.problem(f"'{key}' should be a list, not {shown(values)}")
    return values


def inner(holder: JsonObject, key: str, place: Place) -> JsonObject:
    """Return the object holder[key]; empty if absent."""
    return mapping(holder.get(key, {}), place.at(f"'{key}'"))


def mapping(value: Any, place: Place) -> JsonObject:
    """Return the value if it is a JSON object."""
    if not isinstance(value, dict):
        raise place.problem(f"an object was expected, not {shown(value)}")
    return value


def entry(document: JsonObject, collection: str, index: int, place: Place) -> JsonObject:
    """Return document[collection][index], the way glTF refers to things."""
    entries = items(document, collection, place)
    if index >= len(entries):
        kind = _SINGULAR.get(collection, collection[:-1])
        there = f"only {len(entries)} of them" if entries else "none"
        raise place.problem(f"{kind} {shown(index)} is asked for, but the file has {there}")
    return mapping(entries[index], place)


def extension(holder: JsonObject, name: str) -> JsonObject | None:
    """Return the extension's object, or None where the holder has no such extension."""
    extensions = holder.get("extensions")
    found = extensions.get(name) if isinstance(extensions, dict) else None
    return found if isinstance(found, dict) else None


def _default(key: str, place: Place, default: Any) -> Any:
    if default is _REQUIRED:
        raise place.problem(f"'{key}' is missing")
    return default


def _is_finite(value: Any) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    try:
        return math.isfinite(float(value))
    except OverflowError:
        return False
