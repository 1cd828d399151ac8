"""The right panel: the list, the page, and the gauge."""

import pytest
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter
from pytestqt.qtbot import QtBot
from tests.window.reviews import empty_layout_review, sheet_review, show

from evenweave.check.finding import Severity
from evenweave.window.findings.explanation import Explanation
from evenweave.window.parts.gauge import scale_of
from evenweave.window.parts.glyphs import draw_severity
from evenweave.window.services.session import Session


@pytest.fixture
def panel(session: Session, qtbot: QtBot) -> Explanation:
    one = Explanation(session)
    qtbot.addWidget(one)
    one.resize(320, 640)
    one.show()
    show(session, sheet_review(12))
    return one


def test_the_list_groups_warnings_under_headings_gravest_first(panel: Explanation) -> None:
    model = panel.list.model()
    texts = [model.index(row, 0).data() for row in range(model.rowCount())]
    assert texts[0] == "Faults  1"
    assert texts[2] == "Warnings  4"
    assert texts[7] == "Notes  1"
    assert len(texts) == 9


def test_the_page_holds_all_parts_of_the_chosen_warning(
    panel: Explanation, session: Session
) -> None:
    assert session.shown is not None
    session.choose_finding(session.shown.findings[1])
    page, finding = panel.page, session.shown.findings[1]
    assert page.severity.text() == "Warning"
    assert page.title.text() == finding.title
    assert page.what.text() == finding.what
    assert page.why.body.text() == finding.why
    assert page.do.body.text() == finding.do
    assert page.how.body.text() == finding.how
    assert session.selection == finding.islands


def test_how_it_was_measured_is_folded_until_asked_for(
    panel: Explanation, session: Session
) -> None:
    session.step_finding(1)
    assert not panel.page.how.body.isVisible()
    panel.page.how.button.click()
    assert panel.page.how.body.isVisible()


def test_stepping_goes_round_and_asks_for_the_place(
    panel: Explanation, session: Session, qtbot: QtBot
) -> None:
    assert session.shown is not None
    findings = session.shown.findings
    with qtbot.waitSignal(session.place_asked):
        panel.next.click()
    assert session.finding is findings[0]
    panel.previous.click()
    assert session.finding is findings[-1]
    panel.next.click()
    assert session.finding is findings[0]


@pytest.mark.usefixtures("notes_in_own_folder")
def test_waived_warnings_come_last_as_they_do_in_the_list(
    panel: Explanation, session: Session, qtbot: QtBot
) -> None:
    assert session.shown is not None
    notebook, findings = session.notebook, session.shown.findings
    fault, stretch, *others, stack = findings
    assert (stretch.islands, stack.islands) == ((0,), (0,))
    qtbot.waitUntil(lambda: notebook.is_ready and notebook.waiving is not None)
    notebook.waive(fault, "meant")
    notebook.waive(stretch, "meant")
    qtbot.waitUntil(lambda: notebook.is_waived(stretch))
    met = []
    session.choose_finding(None)
    for _ in findings:
        panel.next.click()
        met.append(session.finding)
    assert met == [*others, stack, fault, stretch]
    session.select([1])
    session.select([0])
    assert session.finding is stack
    session.select(fault.islands)
    assert session.finding is fault


def test_a_layout_without_warnings_says_so(session: Session, qtbot: QtBot) -> None:
    panel = Explanation(session)
    qtbot.addWidget(panel)
    review = sheet_review(0)
    show(session, review)
    assert panel.overview.title.text() == "brass: nothing found"
    assert not panel.next.isEnabled()
    assert empty_layout_review("x").findings == ()


@pytest.mark.parametrize(
    ("value", "limit", "good"),
    [
        (3.0, 1.5, (0.0, 1.5 / 3.45)),  # too much: what is below the limit is good
        (4.0, 16.0, (16 / 18.4, 1.0)),  # too little: what is above it
    ],
)
def test_the_gauge_knows_the_good_side(
    value: float, limit: float, good: tuple[float, float]
) -> None:
    scale = scale_of(value, limit)
    assert scale is not None
    assert scale.good == pytest.approx(good)


def test_the_gauge_of_a_negative_octave_is_good_round_zero() -> None:
    scale = scale_of(-1.0, 0.25)
    assert scale is not None
    assert scale.value < scale.good[0] < scale.good[1]


@pytest.mark.parametrize(("value", "limit"), [(float("nan"), 1.0), (3.0, 0.0), (0.0, 0.0)])
def test_there_is_no_gauge_where_nothing_can_be_compared(value: float, limit: float) -> None:
    assert scale_of(value, limit) is None


def test_severities_differ_by_shape(qtbot: QtBot) -> None:
    """Left and right upper corner, middle, and half way to the corner, of signs as drawn."""
    inked = {}
    for one in Severity:
        image = QImage(20, 20, QImage.Format.Format_Grayscale8)
        image.fill(Qt.GlobalColor.white)
        painter = QPainter(image)
        draw_severity(painter, QRectF(0, 0, 20, 20), one, colour=QColor(Qt.GlobalColor.black))
        painter.end()
        spots = ((1, 1), (18, 1), (10, 10), (4, 4))
        inked[one] = [image.pixelColor(x, y).value() < 128 for x, y in spots]
    assert inked[Severity.NOTE] == [False, False, False, True]
    assert inked[Severity.WARNING] == [False, False, True, False]
    assert inked[Severity.FAULT] == [True, False, True, True]
