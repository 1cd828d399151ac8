"""Tables, lists of facts and histograms of a review on paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor

from evenweave.check.finding import Severity
from evenweave.quantities.catalogue import (
    COVERAGE,
    DENSITY,
    OCTAVES,
    PADDING,
    STRETCH_95,
    SURFACE,
    TEXELS,
)
from evenweave.report.document.content import (
    Bars,
    IslandLine,
    Pair,
    SummaryLine,
    WaiverLine,
)
from evenweave.report.document.marks import limit_anchor
from evenweave.window.paper.flow import BAR, INK, LINE, QUIET, SMALL, Flow

_PAD = 3.0
_GAP = 8.0


@dataclass(frozen=True)
class Counts:
    """A cell of counts behind their signs."""

    open: tuple[tuple[Severity, int], ...]
    waived: int


@dataclass(frozen=True)
class Meter:
    """A cell with a number and a bar from `low` to `high`, 0 to 1; a line stands at `zero`."""

    text: str
    low: float
    high: float
    zero: float


Cell = str | Counts | Meter


@dataclass(frozen=True)
class Column:
    """A column of a table. share : of the whole width."""

    title: str
    share: float
    is_number: bool = False


def table(flow: Flow, columns: Sequence[Column], rows: Sequence[Sequence[Cell]]) -> None:
    """Set a table; its head is repeated on every page."""
    flow.keep(40)
    _head(flow, columns)
    for row in rows:
        high = max(_height(flow, cell, column.share * flow.width - _GAP)
                   for cell, column in zip(row, columns, strict=True))  # fmt: skip
        if flow.room < high + 2 * _PAD:
            flow.turn()
            _head(flow, columns)
        x = flow.left
        for cell, column in zip(row, columns, strict=True):
            width = column.share * flow.width
            _draw(flow, cell, QRectF(x, flow.y + _PAD, width - _GAP, high), column)
            x += width
        flow.y += high + 2 * _PAD
        flow.rule()
    flow.y += 6


def _head(flow: Flow, columns: Sequence[Column]) -> None:
    x = flow.left
    for column in columns:
        width = column.share * flow.width
        flow.write(column.title, QRectF(x, flow.y, width - _GAP, 11), SMALL, colour=QUIET,
                   align=_align(column))  # fmt: skip
        x += width
    flow.y += 13
    flow.rule()


def _align(column: Column) -> Qt.AlignmentFlag:
    return Qt.AlignmentFlag.AlignRight if column.is_number else Qt.AlignmentFlag.AlignLeft


def _height(flow: Flow, cell: Cell, width: float) -> float:
    return flow.height_of(cell, width, SMALL) if isinstance(cell, str) else 9.5


def _draw(flow: Flow, cell: Cell, box: QRectF, column: Column) -> None:
    if isinstance(cell, str):
        flow.write(cell, box, SMALL, align=_align(column))
    elif isinstance(cell, Counts):
        _draw_counts(flow, cell, box)
    else:
        flow.write(cell.text, QRectF(box.x(), box.y(), 26, 10), SMALL,
                   align=Qt.AlignmentFlag.AlignRight)  # fmt: skip
        left, wide = box.x() + 32, box.width() - 32
        bar = QRectF(left + cell.low * wide, box.y() + 2, (cell.high - cell.low) * wide, 5)
        flow.fill(bar, BAR)
        x = left + cell.zero * wide
        flow.line((x, box.y() + 1), (x, box.y() + 8), QUIET, width=0.5)


def _draw_counts(flow: Flow, cell: Counts, box: QRectF) -> None:
    x = box.x()
    for severity, count in cell.open:
        flow.sign(severity, x, box.y() + 2, 6, INK)
        text = f"{count}"
        flow.write(text, QRectF(x + 8, box.y(), 30, 10), SMALL)
        x += 14 + flow.width_of(text, SMALL)
    if cell.waived:
        flow.write(f"{cell.waived} waived", QRectF(x, box.y(), 60, 10), SMALL, colour=QUIET)
    elif not cell.open:
        flow.write("–", QRectF(x, box.y(), 20, 10), SMALL, colour=QUIET)


def summary_table(flow: Flow, lines: Sequence[SummaryLine]) -> None:
    """Set the layouts at a glance."""
    columns = (
        Column("Layout", 0.2), Column("Found", 0.23), Column("Islands", 0.09, True),
        Column(STRETCH_95.header, 0.13, True), Column(COVERAGE.header, 0.11, True),
        Column(DENSITY.label, 0.24, True),
    )  # fmt: skip
    table(flow, columns, [
        (one.name, Counts(one.open, one.waived), one.islands, one.stretch, one.coverage,
         one.density)
        for one in lines
    ])  # fmt: skip


def island_table(flow: Flow, lines: Sequence[IslandLine]) -> None:
    """Set the islands of a layout, worst first."""
    columns = (
        Column("Island", 0.22), Column("Found", 0.18), Column(STRETCH_95.header, 0.15),
        Column(OCTAVES.header, 0.15), Column(PADDING.header, 0.1, True),
        Column(SURFACE.header, 0.1, True), Column(TEXELS.header, 0.1, True),
    )  # fmt: skip
    table(flow, columns, [
        (one.name, Counts(one.open, one.waived), Meter(one.stretch, 0, one.stretch_bar, 0),
         Meter(one.density, min(0.5, 0.5 + one.density_bar / 2),
               max(0.5, 0.5 + one.density_bar / 2), 0.5),
         one.padding, one.surface, one.texels)
        for one in lines
    ])  # fmt: skip


def waiver_table(flow: Flow, lines: Sequence[WaiverLine]) -> None:
    """Set the waivers."""
    columns = (Column("What", 0.3), Column("Reason", 0.35), Column("By", 0.15), Column("Now", 0.2))
    table(flow, columns, [
        (f"{one.title}, {one.where}", one.reason, one.by, one.standing) for one in lines
    ])  # fmt: skip


def facts(flow: Flow, pairs: Sequence[Pair], *, name_width: float = 92.0) -> None:
    """Set names and values beside each other."""
    for name, value in pairs:
        wide = flow.width - name_width
        high = max(flow.height_of(value, wide, SMALL), flow.height_of(name, name_width - 6, SMALL))
        flow.keep(high)
        flow.write(name, QRectF(flow.left, flow.y, name_width - 6, high + 1), SMALL, colour=QUIET)
        flow.write(value, QRectF(flow.left + name_width, flow.y, wide, high + 1), SMALL)
        flow.y += high + 1.5


def bars(flow: Flow, histogram: Bars) -> None:
    """Set a histogram with its label and what it says."""
    flow.words(histogram.label, SMALL, bold=True)
    top, tall, stripe = flow.y + 12, 44.0, 6.0
    foot = top + tall
    tallest = float(histogram.share.max(initial=0.0)) or 1.0
    step = flow.width / len(histogram.share)
    for number, (share, colour) in enumerate(zip(histogram.share, histogram.colour, strict=True)):
        x = flow.left + number * step
        flow.fill(QRectF(x, foot, step + 0.2, stripe), QColor(*colour.tolist()))
        if share > 0:
            high = max(tall * (float(share) / tallest) ** 0.5, 0.7)
            flow.fill(QRectF(x + 0.3, foot - high, step - 0.6, high), BAR)
    flow.line((flow.left, foot), (flow.left + flow.width, foot), LINE)
    for number, (place, words) in enumerate(histogram.limits):
        x = flow.left + place * flow.width
        flow.line((x, top - 1), (x, foot + stripe), INK, width=0.7, is_dashed=True)
        anchor = limit_anchor(number, len(histogram.limits))
        half = flow.width_of(words, 6.5) / 2
        _centred(flow, words, x + {"end": -half, "middle": 0.0, "start": half}[anchor], top - 11)
    for place, words in histogram.ticks:
        x = flow.left + place * flow.width
        wide = flow.width_of(words, 6.5)
        x = min(max(x, flow.left + wide / 2), flow.left + flow.width - wide / 2)
        _centred(flow, words, x, foot + stripe + 2)
    flow.y = foot + stripe + 13
    flow.words(histogram.saying, SMALL, colour=QUIET, after=8)


def _centred(flow: Flow, words: str, x: float, y: float) -> None:
    wide = flow.width_of(words, 6.5) + 2
    flow.write(words, QRectF(x - wide / 2, y, wide + 1, 9), 6.5, colour=QUIET,
               align=Qt.AlignmentFlag.AlignHCenter)  # fmt: skip


def beside(flow: Flow, *sides: Callable[[], None], gap: float = 20.0) -> None:
    """Set things in columns beside each other and move below the longest."""
    left, width, top = flow.left, flow.width, flow.y
    own = (width - gap * (len(sides) - 1)) / len(sides)
    lowest = top
    for number, side in enumerate(sides):
        flow.left, flow.width, flow.y = left + number * (own + gap), own, top
        side()
        lowest = max(lowest, flow.y)
    flow.left, flow.width, flow.y = left, width, lowest
