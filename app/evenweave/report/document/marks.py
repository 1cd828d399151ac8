"""Small drawings of the HTML review as inline SVG: severity signs, meters, histograms."""

from __future__ import annotations

from html import escape

from evenweave.check.finding import Severity
from evenweave.picture.lettering.marks import sign
from evenweave.report.document.content import Bars

_WIDTH, _TOP, _HEIGHT, _STRIPE = 480, 16, 76, 10


def sign_svg(severity: Severity) -> str:
    """Return the sign of a severity; its word is said beside it."""
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in sign(severity, 0, 0, 20))
    box = 'class="sign" viewBox="0 0 20 20" aria-hidden="true"'
    return f'<svg {box}><polygon points="{points}"/></svg>'


def meter_svg(low: float, high: float, *, zero: float) -> str:
    """Return a bar from `low` to `high`, with a line at `zero`, all from 0 to 1."""
    return (
        '<svg viewBox="0 0 56 10" preserveAspectRatio="none" aria-hidden="true">'
        f'<rect x="{56 * low:.1f}" y="1" width="{max(56 * (high - low), 0):.1f}" height="8"/>'
        f'<line x1="{56 * zero:.1f}" x2="{56 * zero:.1f}" y1="0" y2="10"/></svg>'
    )


def limit_anchor(number: int, count: int) -> str:
    """Return how a limit's words stand at its line: those of two limits run apart."""
    return "middle" if count == 1 else ("end", "start")[number]


def bars_svg(bars: Bars) -> str:
    """Return a histogram; its colours are those of the pictures."""
    tallest = float(bars.share.max(initial=0.0)) or 1.0
    step = _WIDTH / len(bars.share)
    foot = _TOP + _HEIGHT
    total = foot + _STRIPE + 18
    parts = [
        f'<svg viewBox="0 0 {_WIDTH} {total}" role="img" '
        f'aria-label="{escape(f"Histogram. {bars.label}: {bars.saying}")}">'
    ]
    for number, (share, colour) in enumerate(zip(bars.share, bars.colour, strict=True)):
        red, green, blue = colour.tolist()
        fill = f"#{red:02x}{green:02x}{blue:02x}"
        x = number * step
        parts.append(
            f'<rect x="{x:.2f}" y="{foot}" width="{step + 0.3:.2f}" height="{_STRIPE}" '
            f'fill="{fill}"/>'
        )
        if share > 0:
            # Square roots, so that small shares can be seen beside large ones.
            tall = max(_HEIGHT * (float(share) / tallest) ** 0.5, 1.0)
            parts.append(
                f'<rect x="{x + 0.5:.2f}" y="{foot - tall:.1f}" width="{step - 1:.2f}" '
                f'height="{tall:.1f}" fill="var(--bar)"/>'
            )
    parts.append(f'<line class="axis" x1="0" x2="{_WIDTH}" y1="{foot}" y2="{foot}"/>')
    for number, (place, words) in enumerate(bars.limits):
        x = place * _WIDTH
        anchor = limit_anchor(number, len(bars.limits))
        parts.append(
            f'<line class="limit" x1="{x:.1f}" x2="{x:.1f}" y1="{_TOP - 3}" y2="{foot + _STRIPE}"/>'
            f'<text class="named" x="{x:.1f}" y="{_TOP - 6}" text-anchor="{anchor}">'
            f"{escape(words)}</text>"
        )
    for place, words in bars.ticks:
        anchor = "start" if place < 0.02 else "end" if place > 0.98 else "middle"
        parts.append(
            f'<text x="{place * _WIDTH:.1f}" y="{total - 4}" text-anchor="{anchor}">'
            f"{escape(words)}</text>"
        )
    return "".join([*parts, "</svg>"])
