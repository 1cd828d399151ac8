"""The words of warnings, from `resources/checks.toml`."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from evenweave.check.own import own_checks
from evenweave.check.subject import Hit
from evenweave.places import resource

FIELDS = ("title", "what", "why", "do", "how")


@dataclass(frozen=True)
class Explanation:
    """A warning in words."""

    title: str
    what: str
    why: str
    do: str
    how: str


@cache
def templates() -> Mapping[str, Mapping[str, str]]:
    """Return every check's templates: ours from the file, and those that others bring along."""
    ours = tomllib.loads(resource("checks.toml").read_text(encoding="utf-8"))
    return {**{check.id: check.texts for check in own_checks()}, **ours}


def title(check: str) -> str:
    """Return a check's plain title."""
    return templates()[check]["title"]


def explain(check: str, finding: Hit) -> Explanation:
    """Fill a check's templates with what was found."""
    own = templates()[check]
    return Explanation(
        **{name: _template(own, name, finding.variant).format_map(finding.words) for name in FIELDS}
    )


def _template(own: Mapping[str, str], name: str, variant: str) -> str:
    """Look for `name_variant`, for the same without "many", for `name_many`, for the plain one."""
    kind = variant.removesuffix("many").rstrip("_")
    tried = [f"{name}_{variant}", f"{name}_{kind}"]
    if variant.endswith("many"):
        tried.append(f"{name}_many")
    return next((own[key] for key in tried if key in own), own[name])
