"""The reference page: every measure, check and limit, as Markdown.

python -m evenweave.quantities.reference > resources/reference.md
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator

from evenweave.check.catalogue import CHECKS
from evenweave.check.finding import WORD
from evenweave.check.texts import templates
from evenweave.limits.limits import DEFAULT
from evenweave.limits.toml import limits_toml
from evenweave.quantities.catalogue import CATALOGUE

HEAD = """\
# Reference

Every measure, check and limit of Evenweave. This page is made from the program's own catalogue by
`python -m evenweave.quantities.reference`; a test holds it current.

Letters: J is the Jacobian of the map from the surface (metres) to the texture (texels of the
tile), s1 ≥ |s2| its singular values, s2 < 0 where the texture is mirrored. Percentiles are
weighted by surface.
"""


def reference() -> str:
    """Return the page."""
    parts = [HEAD, "## Measures", *_measures(), "## Checks", *_checks(), "## Limits", _limits()]
    return "\n\n".join(part.strip() for part in parts) + "\n"


def _measures() -> Iterator[str]:
    rows = [
        f"| {q.label} | {q.unit or '–'} | {q.what} | {_cell(q.formula)} | {q.source} | "
        f"{f'`{q.field}`' if q.field else '–'} |"
        for q in CATALOGUE
    ]
    head = "| measure | unit | what it is | formula | source | in a result |"
    yield "\n".join([head, "|---|---|---|---|---|---|", *rows])


def _checks() -> Iterator[str]:
    texts = templates()
    for check in CHECKS:
        own = texts[check.id]
        what, why, do, how = (_plain(own[key]) for key in ("what", "why", "do", "how"))
        yield (
            f"### {_plain(own['title'])} (`{check.id}`)\n\n"
            f"Usually a {WORD[check.severity]}{f', in {check.unit}' if check.unit else ''}. "
            f"*{what}*\n\n{why}\n\n**What to do.** {do}\n\n**How it is measured.** {how}"
        )


def _limits() -> str:
    """Return the limits file with its comments, which says everything of each limit."""
    return f"The defaults, as `evenweave limits` writes them:\n\n```toml\n{limits_toml(DEFAULT)}```"


def _plain(text: str) -> str:
    """Write the places that are filled in as words in brackets."""
    return re.sub(r"\{(\w+)\}", lambda found: f"⟨{found[1]}⟩", text)


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


if __name__ == "__main__":
    sys.stdout.write(reference())
