"""What is waived is told apart where two passes meet, and where a trial counts warnings."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot
from tests.window.test_comparison import drawn
from tests.window.test_live import WORSE, followed, replaced
from tests.window.test_main_window import opened
from tests.window.test_session import QUADS
from tests.window.test_trial_window import tried
from tests.window.trial_meshes import MIRRORED, write_mesh

from evenweave.check.finding import Finding
from evenweave.window.comparison.window import ComparisonWindow
from evenweave.window.services.session import Session
from evenweave.window.shell.main_window import MainWindow
from evenweave.window.state.settings import Settings

WAIT_MS = 20000
REASON = "A gradient, it may stretch"


@pytest.fixture
def window(qtbot: QtBot, settings: Settings) -> Iterator[MainWindow]:
    one = MainWindow(Session(), settings)
    one.session.may_leave = lambda: True
    qtbot.addWidget(one)
    one.resize(780, 600)
    one.show()
    yield one
    one.close()


@pytest.fixture
def worse(window: MainWindow, tmp_path: Path, qtbot: QtBot) -> MainWindow:
    """The window after an export in which the roof is stretched too."""
    mesh = tmp_path / "quads.obj"
    mesh.write_text(QUADS)
    opened(window, mesh, qtbot)
    replaced(mesh, WORSE)
    followed(window, WORSE, qtbot)
    return window


def stretched(window: MainWindow) -> Finding:
    assert window.session.shown is not None
    return next(one for one in window.session.shown.findings if one.check == "stretch")


def waived(window: MainWindow, finding: Finding, qtbot: QtBot) -> None:
    notebook = window.session.notebook
    notebook.waive(finding, REASON)
    qtbot.waitUntil(lambda: notebook.is_waived(finding), timeout=WAIT_MS)


def listed(shown: ComparisonWindow) -> list[str]:
    return [shown.findings.item(row).text() for row in range(shown.findings.count())]


def test_the_strip_follows_what_is_waived(worse: MainWindow, qtbot: QtBot) -> None:
    told = worse.notices.text_of("pass")
    assert "Worse: 1 warning new or worse (Stretched: roof)" in told
    assert "Waived" not in told
    finding = stretched(worse)
    waived(worse, finding, qtbot)
    told = worse.notices.text_of("pass")
    assert "new or worse" not in told
    assert told.endswith(" Waived: 1 warning.")
    notebook = worse.session.notebook
    notebook.unwaive(notebook.store.waivers)
    qtbot.waitUntil(lambda: not notebook.is_waived(finding), timeout=WAIT_MS)
    assert "Waived" not in worse.notices.text_of("pass")


def test_a_strip_put_away_does_not_come_back(worse: MainWindow, qtbot: QtBot) -> None:
    worse.notices.drop("pass")
    waived(worse, stretched(worse), qtbot)
    assert worse.notices.text_of("pass") == ""


def test_a_comparison_lists_waived_warnings_apart_with_their_reasons(
    worse: MainWindow, tmp_path: Path, qtbot: QtBot
) -> None:
    older = tmp_path / "older.obj"
    older.write_text(QUADS)
    finding = stretched(worse)
    waived(worse, finding, qtbot)
    worse.comparing.compare_with(older)
    qtbot.waitUntil(lambda: worse.comparing.shown is not None, timeout=WAIT_MS)
    shown = worse.comparing.shown
    assert shown is not None
    drawn(shown, qtbot)
    assert shown.verdict.text().endswith(" Waived: 1 warning.")
    texts = listed(shown)
    last = texts.index("Waived  1")
    (line,) = texts[last + 1 :]
    assert line.startswith(f"{finding.title}: ")
    assert f"“{REASON}”" in line
    assert not any(finding.title in text for text in texts[:last])
    shown.findings.setCurrentRow(last + 1)
    assert shown.views.after.item.marks.selection == finding.islands
    notebook = worse.session.notebook
    notebook.unwaive(notebook.store.waivers)
    qtbot.waitUntil(lambda: "Waived" not in shown.verdict.text(), timeout=WAIT_MS)
    assert any(finding.title in text for text in listed(shown))


def test_a_trial_counts_what_is_open(window: MainWindow, tmp_path: Path, qtbot: QtBot) -> None:
    opened(window, write_mesh(tmp_path / "mesh.obj"), qtbot)
    figures = window.trial_bar.numbers.figures
    finding = stretched(window)
    tried(window, qtbot, MIRRORED)
    before = int(figures["warnings"].value.text().split(" → ")[0])
    assert not figures["waived"].isVisible()
    window.session.trials.switch()
    waived(window, finding, qtbot)
    qtbot.waitUntil(figures["waived"].isVisible, timeout=WAIT_MS)
    assert int(figures["warnings"].value.text().split(" → ")[0]) == before - 1
    assert figures["waived"].value.text() == "1"
    window.session.trials.switch()
    qtbot.wait(100)
    assert figures["waived"].value.text() == "1"
