"""What the window remembers."""

from pathlib import Path

import pytest
from PySide6.QtCore import QSettings

from evenweave.raster.look import Look
from evenweave.window.state.settings import RECENT_FILES, Settings


def reopened(path: Path) -> Settings:
    return Settings(QSettings(str(path), QSettings.Format.IniFormat))


def test_a_look_comes_back_as_it_was_but_for_the_brush(tmp_path: Path) -> None:
    look = Look(colours="stretch", checker=True, checker_squares=8.0, seams=False, brush=(1.0, 2.0))
    first = reopened(tmp_path / "a.ini")
    first.remember_look(look)
    first.flush()
    again = reopened(tmp_path / "a.ini").look
    assert again == Look(colours="stretch", checker=True, checker_squares=8.0, seams=False)


@pytest.mark.parametrize(
    "line", ["colours=rainbow", "checker_squares=-3", "checker_squares=many", "checker=perhaps"]
)
def test_a_damaged_setting_counts_as_absent(tmp_path: Path, line: str) -> None:
    path = tmp_path / "a.ini"
    path.write_text(f"[look]\n{line}\n")
    assert reopened(path).look == Look()


def test_recent_files_are_few_and_the_newest_comes_first(tmp_path: Path) -> None:
    settings = reopened(tmp_path / "a.ini")
    paths = [tmp_path / f"{k}.obj" for k in range(RECENT_FILES + 3)]
    for path in paths:
        settings.remember_file(path)
    settings.remember_file(paths[5])
    settings.flush()
    recent = reopened(tmp_path / "a.ini").recent
    assert len(recent) == RECENT_FILES
    assert recent[:2] == (paths[5], paths[-1])
    assert len(set(recent)) == len(recent)


def test_one_recent_file_survives_being_written_as_a_single_word(tmp_path: Path) -> None:
    first = reopened(tmp_path / "a.ini")
    first.remember_file(tmp_path / "only, one.obj")
    first.flush()
    assert reopened(tmp_path / "a.ini").recent == (tmp_path / "only, one.obj",)
