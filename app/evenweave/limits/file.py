"""Limits as TOML: read with clear complaints, written with comments, found in folders."""

from __future__ import annotations

import difflib
import os
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any, NoReturn

from evenweave.errors import SettingsProblem
from evenweave.limits.limits import (
    DEFAULT,
    PURPOSES,
    RULE_KINDS,
    SETTINGS,
    SEVERITY_WORDS,
    Importance,
    Limits,
    complaint,
    kind_of,
    range_of,
)
from evenweave.limits.sets import SET_USES, SetLimits
from evenweave.limits.toml import limits_toml, toml_value
from evenweave.places import resource
from evenweave.writing import write_whole

FILE_NAME = "evenweave.toml"
TABLES = ("purpose", "severity", "importance", "set")
LARGEST_BYTES = 1 << 20


@dataclass(frozen=True)
class FoundLimits:
    """Limits and the file they came from; None where nobody set any."""

    limits: Limits
    path: Path | None


def user_limits_path() -> Path:
    """Return where limits saved beside the user's settings are kept."""
    import platformdirs

    return platformdirs.user_config_path("evenweave", appauthor=False) / FILE_NAME


def discover(folder: Path) -> FoundLimits:
    """Find the limits for files in a folder.

    The nearest `evenweave.toml` from the folder upward, else the user's own, else the defaults.
    Raises SettingsProblem where the file that is found cannot be used.
    """
    here = Path(os.path.abspath(folder))
    for path in (*(place / FILE_NAME for place in (here, *here.parents)), user_limits_path()):
        if os.path.isfile(path):
            return FoundLimits(read_limits(path), path)
    return FoundLimits(DEFAULT, None)


def read_limits(path: Path) -> Limits:
    """Read limits from a TOML file; what it does not name keeps its default.

    Raises SettingsProblem with the line, what is wrong and what is allowed.
    """
    return _Reading(path, _text(path)).limits()


def write_limits(path: Path, limits: Limits, *, replace: bool = True) -> None:
    """Write limits with their comments, whole or not at all.

    Raises FileProblem where the file cannot be written, or exists and is not to be replaced.
    """
    # A character that UTF-8 lacks becomes "?", which as a pattern still fits it.
    write_whole(path, limits_toml(limits).encode("utf-8", "replace"), replace=replace)


def save_user_limits(limits: Limits) -> Path:
    """Write the user's own limits beside the settings, and return where. Raises FileProblem."""
    path = user_limits_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        cause = f"its folder cannot be made, {(error.strerror or str(error)).lower()}"
        raise SettingsProblem(path, "", cause, "save the limits to another file") from None
    write_limits(path, limits)
    return path


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise SettingsProblem(
                path, "", "it is too large to be a file of limits", "give the right file"
            )
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        cause = (error.strerror or "it cannot be read").lower()
        raise SettingsProblem(path, "", cause, "give a file of limits that exists") from None
    except UnicodeDecodeError:
        raise SettingsProblem(path, "", "it is not text in UTF-8", "save it as UTF-8") from None


class _Reading:
    """One file being read, so that every complaint can name its line."""

    def __init__(self, path: Path, text: str) -> None:
        self.path = path
        self.text = text

    def limits(self) -> Limits:
        content = self._content()
        self._known(content, (*SETTINGS, *TABLES), "")
        plain: dict[str, Any] = {
            name: self._setting(name, content[name]) for name in SETTINGS if name in content
        }
        if {"tile_width", "tile_height"} & plain.keys():
            plain.setdefault("tile_from_texture", False)
        purposes = self._words(content, "purpose", PURPOSES)
        severities = self._words(content, "severity", SEVERITY_WORDS)
        self._known(dict(severities), tuple(_check_ids()), "severity")
        return Limits(
            **plain,
            purposes=purposes,
            severities=severities,
            importance=self._importance(content),
            sets=self._sets(content),
        )

    def _content(self) -> dict[str, Any]:
        try:
            return tomllib.loads(self.text)
        except tomllib.TOMLDecodeError as error:
            told = re.fullmatch(
                r"(.*?) \(at (?:(line \d+), column \d+|end of document)\)", str(error)
            )
            cause = told[1] if told else str(error)
            place = (told and told[2]) or f"line {max(len(self.text.splitlines()), 1)}"
            cause = cause[:1].lower() + cause[1:]
            raise SettingsProblem(
                self.path, place, f"not valid TOML, {cause}", "correct this line"
            ) from None

    def _setting(self, name: str, value: Any) -> Any:
        if value == range_of(name).word and value:
            return None
        if wrong := complaint(name, value):
            self._fail(name, f"{name} = {_shown(value)} is not allowed", f"it {wrong}")
        return float(value) if kind_of(name) is float else value

    def _table(self, content: Mapping[str, Any], name: str) -> Mapping[str, Any]:
        table = content.get(name, {})
        if not isinstance(table, dict):
            self._fail(name, f"{name} is not a table", f"write it as [{name}] with lines below")
        return table

    def _words(
        self, content: Mapping[str, Any], name: str, allowed: tuple[Any, ...]
    ) -> tuple[tuple[str, Any], ...]:
        table = self._table(content, name)
        for key, value in table.items():
            if value not in allowed:
                choices = ", ".join(f'"{word}"' for word in allowed)
                self._fail(key, f"{key} = {_shown(value)} is not allowed", f"use one of {choices}")
        return tuple(table.items())

    def _importance(self, content: Mapping[str, Any]) -> tuple[Importance, ...]:
        table = self._table(content, "importance")
        self._known(table, RULE_KINDS, "importance")
        rules = []
        for kind in RULE_KINDS:
            for name, factor in self._table(table, kind).items():
                is_number = isinstance(factor, int | float) and not isinstance(factor, bool)
                if not is_number or not 0 < factor < float("inf"):
                    self._fail(
                        name,
                        f"importance {_shown(factor)} of {name} is not allowed",
                        "it must be a number above 0",
                    )
                rules.append(Importance(kind, name, float(factor)))
        return tuple(rules)

    def _sets(self, content: Mapping[str, Any]) -> tuple[SetLimits, ...]:
        found = []
        for name in self._table(content, "set"):
            inside = self._table(content["set"], name)
            self._known(inside, ("use", *SETTINGS), f"set {name}")
            use = inside.get("use", "texture")
            if use not in SET_USES:
                wanted = " or ".join(f'"{one}"' for one in SET_USES)
                self._fail("use", f"use is {_shown(use)}", f"it must be {wanted}")
            changes = [(key, self._setting(key, inside[key])) for key in inside if key != "use"]
            found.append(SetLimits(name, use, tuple(changes)))
        return tuple(found)

    def _known(self, table: Mapping[str, Any], known: tuple[str, ...], within: str) -> None:
        for key in table:
            if key in known:
                continue
            nearest = difflib.get_close_matches(key, known, n=1, cutoff=0.0)[0]
            what = f"{within} {key}" if within else key
            self._fail(key, f"{what} is not known", f"the nearest known name is {nearest}")

    def _fail(self, key: str, cause: str, remedy: str) -> NoReturn:
        raise SettingsProblem(self.path, self._place(key), cause, remedy)

    def _place(self, key: str) -> str:
        """Find the line on which a key stands: TOML readers do not tell."""
        name = re.escape(key)
        pattern = re.compile(rf"""\s*(?:\[[^\]]*\b)?["']?{name}["']?\s*[\]=.]""")
        for number, line in enumerate(self.text.splitlines(), start=1):
            if pattern.match(line):
                return f"line {number}"
        return ""


def _shown(value: object) -> str:
    text = toml_value(value, "") if isinstance(value, str | bool) else str(value)
    return text if len(text) <= 40 else text[:39] + "…"


def _check_ids() -> Iterable[str]:
    """Return the ids of our checks, and the names under which packages enter theirs."""
    ours = tomllib.loads(resource("checks.toml").read_text(encoding="utf-8"))
    return (*ours, *(entry.name for entry in entry_points(group="evenweave.checks")))
