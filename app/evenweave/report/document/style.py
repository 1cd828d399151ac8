"""The look of the HTML review: quiet, for phone, desk and paper, in light and dark."""

from __future__ import annotations

STYLE = """
:root {
  color-scheme: light dark;
  --ground: #f4f3f0; --raised: #fbfaf8; --text: #24221f; --faint: #65615b; --line: #d3d0cb;
  --bar: #8d8982; --strong: #24221f; --on-strong: #f8f7f5; --mid: #b9b5ae;
}
@media (prefers-color-scheme: dark) {
  :root {
    --ground: #1f1f22; --raised: #28282c; --text: #e7e5e1; --faint: #a7a39c; --line: #45454b;
    --bar: #8b8780; --strong: #e7e5e1; --on-strong: #1f1f22; --mid: #5c5c63;
  }
}
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; }
body {
  margin: 0 auto; padding: 24px clamp(16px, 4vw, 40px) 64px; max-width: 1120px;
  background: var(--ground); color: var(--text);
  font: 16px/1.5 system-ui, "Segoe UI", "Helvetica Neue", "DejaVu Sans", sans-serif;
  font-variant-numeric: tabular-nums; overflow-wrap: anywhere;
}
h1, h2, h3, h4, p, dl, ol, figure, table { margin: 0; }
h1 { font-size: clamp(1.6rem, 5vw, 2.3rem); line-height: 1.15; font-weight: 650; }
h2 { font-size: 1.35rem; line-height: 1.25; font-weight: 650; }
h3, h4 { font-size: 1rem; font-weight: 650; }
h3.large { font-size: 1.2rem; }
a { color: inherit; text-decoration-color: var(--mid); text-underline-offset: 3px; }
a:focus-visible { outline: 2px solid var(--text); outline-offset: 2px; }
.faint { color: var(--faint); }
.small { font-size: .86rem; }
.hidden { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%);
  white-space: nowrap; }
header { display: grid; gap: 8px; padding-bottom: 24px; }
section { border-top: 1px solid var(--line); padding: 24px 0; display: grid; gap: 24px;
  grid-template-columns: minmax(0, 1fr); }
section > * { min-width: 0; }
.part { display: grid; gap: 12px; grid-template-columns: minmax(0, 1fr); }
.sign { width: .78em; height: .78em; fill: currentColor; vertical-align: -.04em;
  margin-right: .3em; flex: none; }
.counts { white-space: nowrap; }
.counts > span { white-space: nowrap; }
.counts > span + span { margin-left: .7em; }

.facts { display: grid; grid-template-columns: max-content minmax(0, 1fr); gap: 2px 20px; }
.facts dt { color: var(--faint); }
.facts dd { margin: 0; }
.columns { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 330px), 1fr));
  gap: 24px 32px; align-items: start; }

.figures { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 400px), 1fr));
  gap: 20px; align-items: start; }
figure img { display: block; width: 100%; height: auto; border-radius: 4px; background: #767676; }
figcaption { padding-top: 6px; color: var(--faint); font-size: .86rem; }
.bars svg { display: block; width: 100%; height: auto; overflow: visible; }
.bars text { fill: var(--faint); font-size: 11px; }
.bars .limit { stroke: var(--text); stroke-dasharray: 3 2; }
.bars .named { fill: var(--text); }
.bars .axis { stroke: var(--mid); }

.wide { overflow-x: auto; background:
  linear-gradient(90deg, var(--ground) 40%, transparent) 0 0 / 28px 100% no-repeat local,
  linear-gradient(270deg, var(--ground) 40%, transparent) 100% 0 / 28px 100% no-repeat local,
  linear-gradient(90deg, var(--mid), transparent) 0 0 / 10px 100% no-repeat scroll,
  linear-gradient(270deg, var(--mid), transparent) 100% 0 / 10px 100% no-repeat scroll; }
table { overflow-wrap: break-word; border-collapse: collapse; width: 100%; font-size: .9rem; }
caption { text-align: left; padding-bottom: 6px; font-weight: 650; font-size: 1rem; }
th { font-weight: 400; color: var(--faint); text-align: left; white-space: nowrap; }
th, td { padding: 5px 12px 5px 0; border-bottom: 1px solid var(--line); vertical-align: baseline; }
tr > :last-child { padding-right: 0; }
.number { text-align: right; white-space: nowrap; }
td.name { min-width: 9em; overflow-wrap: anywhere; }
.spoken td { overflow-wrap: anywhere; }
.spoken td:nth-child(n + 3) { min-width: 7em; }
@media (max-width: 600px) {
  .spare { display: none; }
  .counts { white-space: normal; }
  .spoken thead { display: none; }
  .spoken tr { display: block; padding: 8px 0; border-bottom: 1px solid var(--line); }
  .spoken td { display: block; padding: 0; border: 0; }
}
td.meter { min-width: 7em; white-space: nowrap; }
.meter span { display: inline-block; min-width: 3.2em; text-align: right; }
.meter svg { width: 56px; height: .7em; margin-left: 8px; }
.meter rect { fill: var(--bar); }
.meter line { stroke: var(--faint); }

.findings, .notes { list-style: none; padding: 0; display: grid; gap: 20px; }
.finding { display: grid; grid-template-columns: minmax(0, 1fr); gap: 10px 24px;
  border-top: 1px solid var(--line); padding-top: 16px; }
.finding figure { order: 1; }
@media (min-width: 720px) {
  .finding.shown { grid-template-columns: 300px minmax(0, 1fr); }
  .finding figure { order: 0; }
}
.finding h4 { display: flex; align-items: baseline; gap: .1em; flex-wrap: wrap; }
.finding .words { display: grid; gap: 6px; align-content: start; }
.finding .lead { font-size: 1.02rem; }
.mark { display: inline-block; min-width: 1.65em; padding: 0 .4em; margin-right: .55em;
  border-radius: 4px; background: var(--strong); color: var(--on-strong); text-align: center;
  font-weight: 650; font-size: .86rem; line-height: 1.65em; }
.note .mark { border-radius: 1em; background: none; color: var(--text);
  box-shadow: inset 0 0 0 1.5px var(--strong); }
.note.done .mark { color: var(--faint); box-shadow: inset 0 0 0 1.5px var(--faint); }
.note.deliberate .mark { text-decoration: underline; }
.severity { font-weight: 400; color: var(--faint); margin-left: .6em; }
.waived { border-left: 3px solid var(--mid); padding-left: 12px; }
.finding.waived-whole .lead { color: var(--faint); }
.notes { grid-template-columns: repeat(auto-fill, minmax(min(100%, 400px), 1fr));
  gap: 16px 32px; }
.note { display: grid; grid-template-columns: max-content minmax(0, 1fr); }
.note .text { white-space: pre-wrap; }
.limits { columns: 3 280px; column-gap: 32px; }
.limits > div { break-inside: avoid; padding-bottom: 16px; }
.digest { font-family: ui-monospace, "DejaVu Sans Mono", monospace; font-size: .78rem; }

@page { size: A4; margin: 14mm; }
@media print {
  html { font-size: 10pt; }
  :root { color-scheme: light;
    --ground: #fff; --raised: #fff; --text: #1d1b19; --faint: #56524d; --line: #c9c6c1;
    --bar: #8d8982; --strong: #1d1b19; --on-strong: #fff; --mid: #aaa69f; }
  * { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
  body { max-width: none; padding: 0; font-size: 1rem; }
  section > div:first-child { break-after: avoid; }
  section { padding: 14pt 0; }
  .figures { grid-template-columns: 1fr 1fr; gap: 12pt; }
  .columns { grid-template-columns: 1fr 1fr; }
  .limits { columns: 2; }
  figure, .finding, .note, tr, .bars { break-inside: avoid; }
  h2, h3, h4, caption { break-after: avoid; }
  .finding.shown { grid-template-columns: 54mm minmax(0, 1fr); }
  .finding figure { order: 0; }
  .wide { overflow: visible; background: none; }
  table { font-size: 8.5pt; }
  .contents a { text-decoration: none; }
}
"""
