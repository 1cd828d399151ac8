"""The review as one HTML page that needs no network, no script and no other file."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterator, Sequence
from html import escape

from PIL import Image

from evenweave.check.finding import WORD
from evenweave.check.numbers import counted
from evenweave.report.document.content import (
    Figure,
    FindingBlock,
    LayoutSection,
    NoteLine,
    Pair,
    ReviewDocument,
    WaiverLine,
)
from evenweave.report.document.marks import bars_svg, sign_svg
from evenweave.report.document.style import STYLE
from evenweave.report.document.tables import island_table, summary_table


def document_html(document: ReviewDocument) -> str:
    """Return the page as text."""
    return "\n".join(_page(document))


def _page(document: ReviewDocument) -> Iterator[str]:
    yield "<!DOCTYPE html>"
    yield '<html lang="en"><head><meta charset="utf-8"/>'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1"/>'
    yield '<meta name="color-scheme" content="light dark"/>'
    # Nothing may be loaded, whatever a name in the mesh says.
    yield (
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "img-src data:; style-src 'unsafe-inline'\"/>"
    )
    yield f"<title>{escape(document.headline)}: {escape(document.file)}</title>"
    yield f"<style>{STYLE}</style></head><body>"
    yield "<header>"
    yield f"<p class='faint'>UV review of {escape(document.file)}</p>"
    icon = sign_svg(document.worst) if document.worst is not None else ""
    yield f"<h1>{icon}{escape(document.headline)}</h1>"
    for sentence in document.sentences:
        yield f"<p>{escape(sentence)}</p>"
    yield "</header><main>"
    yield "<section class='contents'>"
    yield summary_table(document)
    yield "</section>"
    if document.notes:
        yield _notes(document.notes)
    for number, layout in enumerate(document.layouts):
        yield _layout(layout, number)
    if document.layouts_left_out:
        rest = counted(document.layouts_left_out, "more layout")
        yield f"<section><p class='faint'>And {rest}, in the table above only.</p></section>"
    if document.waivers:
        yield _waivers(document.waivers)
    yield _limits(document)
    yield f"<section><h2>Where this comes from</h2>{_facts(document.about)}</section>"
    yield "</main></body></html>"


def _facts(pairs: Sequence[Pair]) -> str:
    rows = []
    for name, value in pairs:
        own = " class='digest'" if name == "SHA-256" else ""
        rows.append(f"<dt>{escape(name)}</dt><dd{own}>{escape(value)}</dd>")
    return f"<dl class='facts'>{''.join(rows)}</dl>"


def _layout(layout: LayoutSection, number: int) -> str:
    bars = "".join(
        f"<div class='bars'><h3>{escape(one.label)}</h3>{bars_svg(one)}"
        f"<p class='faint small'>{escape(one.saying)}</p></div>"
        for one in layout.bars
    )
    parts = [
        f'<section id="layout-{number}">',
        f"<div><h2>{escape(layout.name)}</h2><p>{escape(layout.verdict)}</p></div>",
        f"<div class='figures'>{''.join(map(_figure, layout.figures))}</div>",
        f"<div class='columns'>{_facts(layout.facts)}<div class='part'>{bars}</div></div>",
    ]
    if layout.findings:
        items = "".join(map(_finding, layout.findings))
        parts.append("<div class='part'><h3 class='large'>Findings</h3>")
        parts.append(f"<ol class='findings'>{items}</ol>")
        if layout.findings_left_out:
            parts.append(f"<p class='faint'>And {layout.findings_left_out:,} more.</p>")
        parts.append("</div>")
    if layout.rows:
        parts.append(island_table(layout))
    return "".join([*parts, "</section>"])


def _figure(figure: Figure) -> str:
    height, width = figure.image.shape[:2]
    caption = f"<figcaption>{escape(figure.caption)}</figcaption>" if figure.caption else ""
    return (
        f'<figure><img width="{width}" height="{height}" alt="{escape(figure.alternative)}" '
        f'src="{_data(figure)}"/>{caption}</figure>'
    )


def _data(figure: Figure) -> str:
    stream = io.BytesIO()
    Image.fromarray(figure.image).save(stream, "png")
    return "data:image/png;base64," + base64.b64encode(stream.getvalue()).decode("ascii")


def _finding(block: FindingBlock) -> str:
    kind = (
        "finding"
        + (" shown" if block.figure else "")
        + (" waived-whole" if block.is_waived else "")
    )
    waived = ", waived" if block.is_waived else ""
    words = [
        f"<h4><span class='mark'>{block.number}</span>{escape(block.title)}"
        f"<span class='severity'>{sign_svg(block.severity)}{WORD[block.severity]}{waived}</span>"
        "</h4>",
        f"<p class='lead'>{escape(block.what)}</p>",
        *(f"<p class='waived'>{escape(line)}</p>" for line in block.status),
    ]
    if block.same_as:
        words.append(f"<p class='faint small'>Why, and what to do: as under {block.same_as}.</p>")
    else:
        words += [
            f"<p>{escape(block.why)}</p>",
            f"<p>{escape(block.do)}</p>",
            f"<p class='faint small'>{escape(block.how)}</p>",
        ]
    figure = _figure(block.figure) if block.figure else ""
    return f"<li class='{kind}'>{figure}<div class='words'>{''.join(words)}</div></li>"


def _notes(notes: Sequence[NoteLine]) -> str:
    here = [note for note in notes if note.place]
    adrift = [note for note in notes if not note.place]
    parts = ["<section><h2>Notes</h2>"]
    if here:
        parts.append(f"<ol class='notes'>{''.join(map(_note, here))}</ol>")
    if adrift:
        parts.append(
            "<div class='part'><h3>Adrift</h3><p class='faint'>What these notes were pinned to "
            f"is not in this pass.</p><ol class='notes'>{''.join(map(_note, adrift))}</ol></div>"
        )
    return "".join([*parts, "</section>"])


def _note(note: NoteLine) -> str:
    place = f" on {note.place}" if note.place else ""
    kind = note.state.replace(" ", "-")
    about = ", ".join(filter(None, (note.state, f"{note.meant}{place}", note.changed)))
    text = escape(note.text) if note.text else "<span class='faint'>No text</span>"
    return (
        f"<li class='note {kind}'><div><span class='mark'>{note.mark}</span></div>"
        f"<div><p class='text'>{text}</p><p class='faint small'>{escape(about)}</p></div></li>"
    )


def _waivers(waivers: Sequence[WaiverLine]) -> str:
    rows = "".join(
        f"<tr><td class='name'>{escape(one.title)}<br/>"
        f"<span class='faint small'>{escape(one.where)}</span></td>"
        f"<td>{escape(one.reason)}</td><td>{escape(one.by)}</td><td>{escape(one.standing)}</td></tr>"
        for one in waivers
    )
    return (
        "<section><h2>Waivers</h2><div class='wide' tabindex='0'><table class='spoken'><thead><tr>"
        f"<th>What</th><th>Reason</th><th>By</th><th>Now</th></tr></thead><tbody>{rows}</tbody></table></div></section>"
    )


def _limits(document: ReviewDocument) -> str:
    groups = "".join(
        f"<div><h3>{escape(group)}</h3>{_facts(pairs)}</div>" for group, pairs in document.limits
    )
    return f"<section><h2>Limits used</h2><div class='limits small'>{groups}</div></section>"
