"""What the window remembers between two sittings, typed, over one `QSettings`."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import QByteArray, QSettings
from PySide6.QtWidgets import QSplitter

from evenweave.raster.look import COLOURS, Look

RECENT_FILES = 10
_KEPT_LOOK = tuple(one.name for one in fields(Look) if one.name not in ("brush", "mip"))


class Settings:
    """Typed access; a damaged or foreign value counts as absent."""

    def __init__(self, store: QSettings | None = None) -> None:
        self._store = store or QSettings(
            QSettings.Format.IniFormat, QSettings.Scope.UserScope, "evenweave", "evenweave"
        )

    @property
    def recent(self) -> tuple[Path, ...]:
        """Files opened last, newest first."""
        value = self._store.value("recent", [])
        names = [value] if isinstance(value, str) else value if isinstance(value, list) else []
        return tuple(Path(name) for name in names if isinstance(name, str))[:RECENT_FILES]

    def remember_file(self, path: Path) -> None:
        """Put a file at the top of the recent ones."""
        path = path.resolve()
        others = [one for one in self.recent if one != path]
        self._store.setValue("recent", [str(one) for one in (path, *others)][:RECENT_FILES])

    @property
    def notes_elsewhere(self) -> dict[Path, Path]:
        """Where notes are kept that cannot be beside their mesh, by mesh."""
        value = self._store.value("notes_elsewhere", [])
        names = [str(name) for name in value] if isinstance(value, list) else []
        return {Path(mesh): Path(kept) for mesh, kept in zip(names[::2], names[1::2], strict=False)}

    def remember_notes_elsewhere(self, places: dict[Path, Path]) -> None:
        """Keep where notes are kept, of the meshes noted last."""
        pairs = list(places.items())[-RECENT_FILES:]
        self._store.setValue("notes_elsewhere", [str(path) for pair in pairs for path in pair])

    @property
    def look(self) -> Look:
        """The look chosen last."""
        look = Look()
        for name in _KEPT_LOOK:
            default = getattr(look, name)
            value = self._typed(f"look/{name}", type(default))
            if value is not None and _is_look(name, value):
                look = replace(look, **{name: value})
        return look

    def remember_look(self, look: Look) -> None:
        """Keep the look; brush and mip level belong to one sitting."""
        for name in _KEPT_LOOK:
            self._store.setValue(f"look/{name}", getattr(look, name))

    def flag(self, name: str, default: bool) -> bool:
        """Return a remembered yes or no."""
        value = self._typed(f"window/{name}", bool)
        return default if value is None else bool(value)

    def remember_flag(self, name: str, value: bool) -> None:
        """Keep a yes or no."""
        self._store.setValue(f"window/{name}", value)

    def state(self, name: str) -> QByteArray | None:
        """Return a remembered geometry or splitter state."""
        value = self._store.value(f"window/{name}")
        return value if isinstance(value, QByteArray) else None

    def remember_state(self, name: str, state: QByteArray) -> None:
        """Keep a geometry or splitter state."""
        self._store.setValue(f"window/{name}", state)

    def restore_splitter(self, name: str, splitter: QSplitter) -> None:
        """Give a splitter the sizes it had; its orientation stays."""
        state, orientation = self.state(name), splitter.orientation()
        if state is not None:
            splitter.restoreState(state)
            splitter.setOrientation(orientation)

    def word(self, name: str, default: str) -> str:
        """Return a remembered text."""
        value = self._typed(f"window/{name}", str)
        return default if value is None else str(value)

    def remember_word(self, name: str, value: str) -> None:
        """Keep a text."""
        self._store.setValue(f"window/{name}", value)

    def flush(self) -> None:
        """Write to disk now."""
        self._store.sync()

    def _typed(self, key: str, kind: type) -> Any:
        value = self._store.value(key)
        if kind is bool:
            return {"true": True, "false": False}.get(str(value).lower())
        if value is None:
            return None
        try:
            return kind(value)
        except (TypeError, ValueError):
            return None


def _is_look(name: str, value: object) -> bool:
    if name == "colours":
        return value in COLOURS
    if name == "checker_per":
        return value in ("tile", "metre")
    if name == "checker_squares":
        return isinstance(value, float) and 0 < value <= 65536
    return True
