"""`ReviewDocument`: what a review hands over, chosen and put into words, before it is set."""

from __future__ import annotations

from dataclasses import dataclass

from evenweave.arrays import ByteArray, FloatArray
from evenweave.check.finding import Severity
from evenweave.notes.store import NoteState

Pair = tuple[str, str]


@dataclass(frozen=True, eq=False)
class Figure:
    """A picture (H, W, 3) uint8 with its caption, and what it shows for those who cannot see it."""

    image: ByteArray
    caption: str
    alternative: str


@dataclass(frozen=True, eq=False)
class Bars:
    """A histogram over the surface.

    share : (N,) of the surface in each bin; colour : (N, 3) uint8
    ticks, limits : place from 0 (left) to 1 (right), and its words
    saying : what it shows, in a sentence
    """

    label: str
    share: FloatArray
    colour: ByteArray
    ticks: tuple[tuple[float, str], ...]
    limits: tuple[tuple[float, str], ...]
    saying: str


@dataclass(frozen=True)
class IslandLine:
    """A row of the table of islands. Numbers are ready to read; bars run from 0 to 1.

    open : how many open warnings of each severity; waived : how many are waived
    density_bar : -1 to 1 from the target
    """

    name: str
    open: tuple[tuple[Severity, int], ...]
    waived: int
    stretch: str
    stretch_bar: float
    density: str
    density_bar: float
    padding: str
    surface: str
    texels: str


@dataclass(frozen=True, eq=False)
class FindingBlock:
    """A warning explained.

    number : as in the pictures; status : "" or what is waived of it, with the reasons
    same_as : number of an earlier finding whose why, do and how hold here too, else 0
    """

    number: int
    severity: Severity
    is_waived: bool
    title: str
    what: str
    why: str
    do: str
    how: str
    status: tuple[str, ...]
    same_as: int
    figure: Figure | None


@dataclass(frozen=True, eq=False)
class LayoutSection:
    """One layout. rows_left_out, findings_left_out : how many more there are than are shown."""

    name: str
    verdict: str
    facts: tuple[Pair, ...]
    figures: tuple[Figure, ...]
    bars: tuple[Bars, ...]
    rows: tuple[IslandLine, ...]
    rows_left_out: int
    findings: tuple[FindingBlock, ...]
    findings_left_out: int


@dataclass(frozen=True)
class SummaryLine:
    """A layout in the table at the beginning."""

    name: str
    islands: str
    open: tuple[tuple[Severity, int], ...]
    waived: int
    density: str
    stretch: str
    coverage: str


@dataclass(frozen=True)
class NoteLine:
    """A note. mark : its letter in the pictures; place : "" where it is adrift."""

    mark: str
    state: NoteState
    place: str
    meant: str
    text: str
    changed: str


@dataclass(frozen=True)
class WaiverLine:
    """A waiver and what has become of it."""

    title: str
    where: str
    reason: str
    by: str
    standing: str


@dataclass(frozen=True, eq=False)
class ReviewDocument:
    """Everything, in the order in which it is read.

    worst : gravest severity that is open; layouts_left_out : layouts named in `summary` alone
    """

    file: str
    headline: str
    sentences: tuple[str, ...]
    worst: Severity | None
    summary: tuple[SummaryLine, ...]
    summary_left_out: int
    layouts: tuple[LayoutSection, ...]
    layouts_left_out: int
    notes: tuple[NoteLine, ...]
    waivers: tuple[WaiverLine, ...]
    limits: tuple[tuple[str, tuple[Pair, ...]], ...]
    about: tuple[Pair, ...]
