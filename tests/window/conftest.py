"""Sessions that end, settings that stay in the test's folder, windows in our own dress."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication

from evenweave.limits import file as limits_file
from evenweave.window.parts import palette
from evenweave.window.services.session import Session
from evenweave.window.state.settings import Settings


@pytest.fixture(scope="session", autouse=True)
def _dress(qapp: QApplication) -> None:
    palette.dress(qapp, "light")


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep the tester's own limits out of the tests."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    assert str(limits_file.user_limits_path()).startswith(str(tmp_path))


@pytest.fixture
def notes_in_own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep notes on meshes that are no files, which have no folder, in the test's."""
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat))


@pytest.fixture
def session(qapp: QApplication) -> Iterator[Session]:
    one = Session()
    yield one
    one.close()
