"""The tables of the HTML review: layouts at a glance, islands worst first."""

from __future__ import annotations

from html import escape

from evenweave.check.numbers import counted
from evenweave.report.document.content import IslandLine, LayoutSection, ReviewDocument
from evenweave.report.document.marks import counts_html, meter_svg

_SUMMARY_HEAD = (
    ("Layout", ""),
    ("Found", ""),
    ("Islands", "number spare"),
    ("Stretch, 95 %", "number"),
    ("Coverage", "number spare"),
    ("Density", "number spare"),
)
_HEAD = (
    ("Island", ""),
    ("Found", ""),
    ("Stretch, 95 %", ""),
    ("Density, octaves", ""),
    ("Padding, texels", "number"),
    ("Surface", "number"),
    ("Texels", "number"),
)


def summary_table(document: ReviewDocument) -> str:
    """Return the layouts at a glance, each with a link to its section."""
    sections = {layout.name: number for number, layout in enumerate(document.layouts)}
    rows = []
    for one in document.summary:
        name = escape(one.name)
        if one.name in sections:
            name = f'<a href="#layout-{sections[one.name]}">{name}</a>'
        rows.append(
            f"<tr><td class='name'>{name}</td><td>{counts_html(one.open, one.waived)}</td>"
            f"<td class='number spare'>{one.islands}</td><td class='number'>{one.stretch}</td>"
            f"<td class='number spare'>{one.coverage}</td>"
            f"<td class='number spare'>{escape(one.density)}</td></tr>"
        )
    more = document.summary_left_out
    tail = f"<p class='faint'>And {counted(more, 'more layout')}.</p>" if more else ""
    head = "".join(f"<th{f' class={kind!r}' if kind else ''}>{words}</th>"
                   for words, kind in _SUMMARY_HEAD)  # fmt: skip
    return (
        "<div class='wide' tabindex='0'><table><caption>Layouts</caption><thead><tr>"
        f"{head}</tr></thead><tbody>{''.join(rows)}</tbody></table></div>{tail}"
    )


def island_table(layout: LayoutSection) -> str:
    """Return the islands of a layout, worst first."""
    head = "".join(f"<th{f' class={kind!r}' if kind else ''}>{words}</th>" for words, kind in _HEAD)
    rows = "".join(map(_row, layout.rows))
    more = layout.rows_left_out
    tail = f"<p class='faint'>And {counted(more, 'more island')}.</p>" if more else ""
    return (
        "<div class='part'><div class='wide' tabindex='0'><table>"
        "<caption>Islands, worst first</caption>"
        f"<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div>{tail}</div>"
    )


def _row(line: IslandLine) -> str:
    low, high = sorted((0.5, 0.5 + line.density_bar / 2))
    return (
        f"<tr><td class='name'>{escape(line.name)}</td>"
        f"<td>{counts_html(line.open, line.waived)}</td>"
        f"<td class='meter'><span>{line.stretch}</span>"
        f"{meter_svg(0, line.stretch_bar, zero=0)}</td>"
        f"<td class='meter'><span>{line.density}</span>{meter_svg(low, high, zero=0.5)}</td>"
        f"<td class='number'>{line.padding}</td><td class='number'>{line.surface}</td>"
        f"<td class='number'>{line.texels}</td></tr>"
    )
