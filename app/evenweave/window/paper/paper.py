"""The review on paper: A4 pages as PDF, drawn by Qt; no window is needed."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

from PySide6.QtCore import QBuffer, QIODevice, QRectF, Qt
from PySide6.QtGui import QColor, QGuiApplication, QPageSize, QPdfWriter

from evenweave.check.finding import WORD
from evenweave.check.numbers import counted
from evenweave.report.document.content import (
    Figure,
    FindingBlock,
    LayoutSection,
    NoteLine,
    ReviewDocument,
)
from evenweave.window.paper.flow import HEAD, INK, PLAIN, QUIET, SMALL, TITLE, Flow
from evenweave.window.paper.tables import (
    bars,
    beside,
    facts,
    island_table,
    summary_table,
    waiver_table,
)
from evenweave.window.parts.image import image_of
from evenweave.writing import write_whole

_DOTS_PER_INCH = 600
_PLACE_WIDTH = 138.0
_MARK = 13.0
_GAP = 12.0
_LAYOUT_HEAD = 44.0
_LIMITS_HEIGHT = 230.0


def write_pdf(path: Path, document: ReviewDocument) -> None:
    """Write a review as PDF, whole or not at all. Raises FileProblem."""
    write_whole(path, pdf(document))


def pdf(document: ReviewDocument) -> bytes:
    """Return a review as the bytes of a PDF file."""
    if QGuiApplication.instance() is None:
        _own_application()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setResolution(_DOTS_PER_INCH)
    writer.setPageSize(QPageSize(QPageSize.PageSizeId.A4))
    writer.setTitle(f"{document.headline}: {document.file}")
    writer.setCreator("Evenweave")
    flow = Flow(writer, f"UV review of {document.file}")
    _set(flow, document)
    flow.end()
    buffer.close()
    return bytes(buffer.data().data())


@cache
def _own_application() -> QGuiApplication:
    """Return what Qt needs for setting type; nothing is shown, so no display is asked for."""
    return QGuiApplication(["evenweave", "-platform", "offscreen"])


def _set(flow: Flow, document: ReviewDocument) -> None:
    flow.words(f"UV review of {document.file}", PLAIN, colour=QUIET)
    flow.words(document.headline, TITLE, bold=True, after=4)
    for sentence in document.sentences:
        flow.words(sentence, PLAIN, after=1)
    flow.skip(14)
    summary_table(flow, document.summary)
    if document.summary_left_out:
        flow.words(f"And {counted(document.summary_left_out, 'more layout')}.", colour=QUIET)
    if document.notes:
        _notes(flow, document.notes)
    for layout in document.layouts:
        _layout(flow, layout)
    if document.layouts_left_out:
        rest = counted(document.layouts_left_out, "more layout")
        flow.words(f"And {rest}, in the first table only.", colour=QUIET)
    if document.waivers:
        _head(flow, "Waivers")
        waiver_table(flow, document.waivers)
    _head(flow, "Limits used", room=_LIMITS_HEIGHT + 30)
    _limits(flow, document)
    _head(flow, "Where this comes from")
    facts(flow, document.about)


def _head(flow: Flow, text: str, *, room: float = 90.0) -> None:
    flow.skip(16)
    flow.keep(room)
    flow.words(text, HEAD, bold=True, after=6)


def _notes(flow: Flow, notes: Sequence[NoteLine]) -> None:
    _head(flow, "Notes")
    for note in notes:
        if note.place:
            _note(flow, note)
    adrift = [note for note in notes if not note.place]
    if adrift:
        flow.keep(60)
        flow.words("Adrift: what these notes were pinned to is not in this pass.", bold=True)
        for note in adrift:
            _note(flow, note)


def _note(flow: Flow, note: NoteLine) -> None:
    place = f" on {note.place}" if note.place else ""
    about = ", ".join(filter(None, (note.state, f"{note.meant}{place}", note.changed)))
    flow.keep(30)
    colour = QUIET if note.state == "done" else INK
    wide = max(_MARK, flow.width_of(note.mark, SMALL, bold=True) + 7)
    flow.ring(QRectF(flow.left, flow.y, wide, _MARK), colour)
    _mark(flow, note.mark, wide, colour)
    _indented(flow, max(wide + 7, 22), [(note.text or "No text", PLAIN), (about, SMALL)])
    flow.y += 5


def _mark(flow: Flow, mark: str, wide: float, colour: QColor) -> None:
    flow.write(mark, QRectF(flow.left, flow.y + 1.7, wide, _MARK), SMALL, colour=colour,
               bold=True, align=Qt.AlignmentFlag.AlignHCenter)  # fmt: skip


def _indented(flow: Flow, by: float, paragraphs: Sequence[tuple[str, float]]) -> None:
    left, width = flow.left, flow.width
    flow.left, flow.width = left + by, width - by
    for text, size in paragraphs:
        flow.words(text, size, colour=QUIET if size == SMALL else INK, after=2)
    flow.left, flow.width = left, width


def _layout(flow: Flow, layout: LayoutSection) -> None:
    pairs = (layout.figures[:2], layout.figures[2:4])
    _head(flow, layout.name, room=_LAYOUT_HEAD + _pair_height(flow, pairs[0]))
    flow.words(layout.verdict, PLAIN, after=8)
    for pair in pairs:
        _figures(flow, pair)
    flow.keep(130)
    beside(
        flow,
        lambda: facts(flow, layout.facts, name_width=50),
        *(lambda one=one: bars(flow, one) for one in layout.bars),
    )
    if layout.findings:
        _head(flow, "Findings")
        for one in layout.findings:
            _finding(flow, one)
        if layout.findings_left_out:
            flow.words(f"And {layout.findings_left_out:,} more.", colour=QUIET)
    if layout.rows:
        _head(flow, "Islands, worst first")
        island_table(flow, layout.rows)
        if layout.rows_left_out:
            flow.words(f"And {counted(layout.rows_left_out, 'more island')}.", colour=QUIET)


def _figures(flow: Flow, figures: Sequence[Figure]) -> None:
    wide = _figure_width(flow)
    flow.keep(_pair_height(flow, figures))

    def side(figure: Figure) -> None:
        tall = _height(figure, wide)
        flow.picture(image_of(figure.image), QRectF(flow.left, flow.y, wide, tall))
        flow.y += tall + 3
        flow.words(figure.caption, SMALL, colour=QUIET, after=8)

    beside(flow, *(lambda figure=figure: side(figure) for figure in figures), gap=_GAP)


def _pair_height(flow: Flow, figures: Sequence[Figure]) -> float:
    """Return how high two pictures side by side stand with the lines below them."""
    return max(_height(figure, _figure_width(flow)) for figure in figures) + 26


def _figure_width(flow: Flow) -> float:
    return (flow.width - _GAP) / 2


def _height(figure: Figure, width: float) -> float:
    height_px, width_px = figure.image.shape[:2]
    return float(width * height_px / width_px)


def _finding(flow: Flow, block: FindingBlock) -> None:
    paragraphs = [(block.what, PLAIN), *((line, PLAIN) for line in block.status)]
    if block.same_as:
        paragraphs.append((f"Why, and what to do: as under {block.same_as}.", SMALL))
    else:
        paragraphs += [(block.why, PLAIN), (block.do, PLAIN), (block.how, SMALL)]
    by = _PLACE_WIDTH + 14 if block.figure else 0.0
    tall = 18 + sum(flow.height_of(text, flow.width - by, size) + 2 for text, size in paragraphs)
    picture = _height(block.figure, _PLACE_WIDTH) if block.figure else 0.0
    flow.keep(max(tall, picture) + 10)
    flow.rule()
    flow.y += 6
    top = flow.y
    if block.figure:
        flow.picture(image_of(block.figure.image), QRectF(flow.left, top, _PLACE_WIDTH, picture))
    flow.left, flow.width = flow.left + by, flow.width - by
    _finding_title(flow, block)
    _indented(flow, 0.0, paragraphs)
    flow.left, flow.width = flow.left - by, flow.width + by
    flow.y = max(flow.y, top + picture) + 6


def _finding_title(flow: Flow, block: FindingBlock) -> None:
    number = str(block.number)
    wide = max(_MARK, flow.width_of(number, SMALL, bold=True) + 6)
    flow.fill(QRectF(flow.left, flow.y, wide, _MARK), INK, radius=2.5)
    _mark(flow, number, wide, QColor("white"))
    x = flow.left + wide + 6
    title = flow.width_of(block.title, PLAIN, bold=True)
    flow.write(block.title, QRectF(x, flow.y + 0.6, title + 4, 14), PLAIN, bold=True)
    flow.sign(block.severity, x + title + 8, flow.y + 3.4, 6.4, QUIET)
    word = WORD[block.severity] + (", waived" if block.is_waived else "")
    flow.write(word, QRectF(x + title + 18, flow.y + 1.6, 120, 12), SMALL, colour=QUIET)
    flow.y += 17


def _limits(flow: Flow, document: ReviewDocument) -> None:
    groups = document.limits
    half = (len(groups) + 1) // 2

    def side(part: Sequence[tuple[str, Sequence[tuple[str, str]]]]) -> None:
        for name, pairs in part:
            flow.words(name, PLAIN, bold=True)
            facts(flow, pairs, name_width=110)
            flow.y += 7

    flow.keep(_LIMITS_HEIGHT)
    beside(flow, lambda: side(groups[:half]), lambda: side(groups[half:]))
