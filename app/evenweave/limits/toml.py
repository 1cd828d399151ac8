"""Limits written as TOML, with a comment for every setting."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Iterable

from evenweave.limits.limits import DEFAULT, RULE_KINDS, SETTINGS, Limits, kind_of, range_of


def default_toml() -> str:
    """Return the commented file that `evenweave limits` writes."""
    return limits_toml(DEFAULT)


def limits_toml(limits: Limits) -> str:
    """Return limits as commented TOML."""
    lines = [
        "# Limits of Evenweave: what is acceptable here. A value exactly at its limit is accepted.",
        "# Put this file beside your assets or in a folder above them. What is not named keeps",
        "# its default.",
    ]
    group = ""
    for name in SETTINGS:
        span = range_of(name)
        if span.group != group:
            group = span.group
            lines += ["", f"# {group}"]
        lines += _setting_lines(name, getattr(limits, name))
    lines += ["", *_purpose_lines(limits), "", *_severity_lines(limits)]
    lines += ["", *_importance_lines(limits), "", *_set_lines(limits)]
    return "\n".join(lines) + "\n"


def _setting_lines(name: str, value: object) -> list[str]:
    span = range_of(name)
    allowed = span.allowed(kind_of(name))
    unit = f"{span.unit}; " if span.unit else ""
    meaning = textwrap.wrap(span.meaning, 94)
    return [
        *(f"# {line}" for line in meaning),
        f"{name} = {toml_value(value, span.word)}  # {unit}{allowed}",
    ]


def _purpose_lines(limits: Limits) -> list[str]:
    return [
        "# What a layout is for, by its name or a pattern with * and ?.",
        '# "unique" (the default): one texel, one place, for baking and painting.',
        '# "tiling": a repeating or shared texture; overlap, tile, padding, margin and coverage',
        "# are not asked.",
        "[purpose]",
        *_table(limits.purposes, '"wall*" = "tiling"'),
    ]


def _severity_lines(limits: Limits) -> list[str]:
    return [
        '# How much a check matters: "off", "note", "warning" or "fault" instead of its own.',
        "[severity]",
        *_table(limits.severities, 'stack = "off"'),
    ]


def _importance_lines(limits: Limits) -> list[str]:
    lines = [
        "# How much texel density a thing deserves: a factor, 1 = normal, 2 = twice as many texels",
        "# per metre. By exact name or a pattern with * and ?; a rule for an island goes before",
        "# one for its part, and that before one for its material. An island's name may be written",
        '# with its layout, as "brass/door 2".',
    ]
    examples = {"material": "brass = 1.5", "part": '"screw*" = 0.5', "island": '"brass/door" = 2.0'}
    for kind in RULE_KINDS:
        rules = [(rule.name, rule.factor) for rule in limits.importance if rule.kind == kind]
        lines += [f"[importance.{kind}]", *_table(rules, examples[kind]), ""]
    return lines[:-1]


def _set_lines(limits: Limits) -> list[str]:
    lines = [
        "# What is other in a UV set, by its name or a pattern: any setting from above, and what",
        '# the set is for. "texture" is the default; a "lightmap" is judged over all materials, on',
        "# 256 x 256 texels unless given here, and no two islands may share a place in it.",
    ]
    for one in limits.sets:
        changes = ((name, _written(name, value)) for name, value in one.changes)
        lines += [f"[set.{_key(one.name)}]", *_table([("use", one.use), *changes], ""), ""]
    example = [
        "# [set.lightmap]",
        '# use = "lightmap"',
        "# tile_width = 256",
        "# tile_height = 256",
    ]
    return lines[:-1] if limits.sets else [*lines, *example]


def _written(name: str, value: object) -> object:
    return range_of(name).word if value is None else value


def _table(pairs: Iterable[tuple[str, object]], example: str) -> list[str]:
    lines = [f"{_key(name)} = {toml_value(value, '')}" for name, value in dict(pairs).items()]
    return lines or [f"# {example}"]


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _quoted(name)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def toml_value(value: object, word: str) -> str:
    """Return a value as TOML; None is the setting's own word for it."""
    if value is None or isinstance(value, str):
        return _quoted(word if value is None else value)
    if isinstance(value, bool):
        return "true" if value else "false"
    return repr(value)
