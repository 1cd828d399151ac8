"""The review as one HTML page that needs no network, no script and no other file.

The page is `resources/templates/review.html.jinja`; whatever a name in a mesh says is escaped.
"""

from __future__ import annotations

import base64
import io
from functools import cache

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup
from PIL import Image

from evenweave.check.finding import WORD
from evenweave.check.numbers import counted
from evenweave.places import resource
from evenweave.quantities.catalogue import (
    COVERAGE,
    DENSITY,
    OCTAVES,
    PADDING,
    STRETCH_95,
    SURFACE,
    TEXELS,
)
from evenweave.report.document.content import Figure, IslandLine, ReviewDocument
from evenweave.report.document.marks import bars_svg, meter_svg, sign_svg

SUMMARY_HEAD = (
    ("Layout", ""),
    ("Found", ""),
    ("Islands", "number spare"),
    (STRETCH_95.header, "number"),
    (COVERAGE.header, "number spare"),
    (DENSITY.label, "number spare"),
)
ISLAND_HEAD = (
    ("Island", ""),
    ("Found", ""),
    (STRETCH_95.header, ""),
    (OCTAVES.header, ""),
    (PADDING.header, "number"),
    (SURFACE.header, "number"),
    (TEXELS.header, "number"),
)


def document_html(document: ReviewDocument) -> str:
    """Return the page as text."""
    return _environment().from_string(_text("review.html.jinja")).render(
        document=document,
        style=Markup(_text("review.css")),
        sections={layout.name: number for number, layout in enumerate(document.layouts)},
        summary_head=SUMMARY_HEAD,
        island_head=ISLAND_HEAD,
    )  # fmt: skip


def _text(name: str) -> str:
    return resource(f"templates/{name}").read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    environment = Environment(autoescape=True, undefined=StrictUndefined)
    environment.filters.update(
        counted=counted,
        word=lambda severity: WORD[severity],
        sign=lambda severity: Markup(sign_svg(severity)),
        histogram=lambda bars: Markup(bars_svg(bars)),
        stretch_meter=lambda line: Markup(meter_svg(0, line.stretch_bar, zero=0)),
        density_meter=_density_meter,
        data=_data,
    )
    return environment


def _density_meter(line: IslandLine) -> Markup:
    low, high = sorted((0.5, 0.5 + line.density_bar / 2))
    return Markup(meter_svg(low, high, zero=0.5))


def _data(figure: Figure) -> str:
    stream = io.BytesIO()
    Image.fromarray(figure.image).save(stream, "png")
    return "data:image/png;base64," + base64.b64encode(stream.getvalue()).decode("ascii")
