"""`evenweave notes`: list the notes on a mesh, or write the whole review as one file."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evenweave.command.line.options import add_options
from evenweave.command.line.terminal import ProgressLine, deliver
from evenweave.errors import FileProblem

if TYPE_CHECKING:
    from evenweave.command.line.opening import Opened
    from evenweave.notes.store import NoteStore

EXAMPLES = """\
examples:
  evenweave notes lantern.obj
  evenweave notes lantern.obj --output review.html
  evenweave notes lantern.obj --output review.pdf

Notes and waivers are kept beside the mesh, in lantern.obj.evenweave-notes.json.
"""


def add(commands: Any) -> None:
    """Add this command's parser."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "notes",
        help="list notes and waivers, or write the review as HTML or PDF",
        description="List the notes and waivers on a mesh, or write the whole review (verdict, "
        "pictures, findings, notes, limits) as one HTML page or PDF.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="the mesh")
    parser.add_argument(
        "--output",
        type=Path,
        metavar="REVIEW.html|.pdf",
        help="the review to write; else the notes are listed on the terminal",
    )
    parser.add_argument(
        "--notes",
        type=Path,
        metavar="FILE.json",
        help="the notes to use (default: those kept beside the mesh)",
    )
    add_options(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """List or write, and return the exit code."""
    from evenweave.command.line.opening import opened, refuse_overwriting
    from evenweave.notes.notes_file import notes_path, read_notes

    output = arguments.output
    path = arguments.notes or notes_path(arguments.file)
    if arguments.notes is not None and not path.exists():
        raise FileProblem(path, "", "there is no such file", "name a file of notes")
    if output is not None:
        if output.suffix.lower() not in (".html", ".htm", ".pdf"):
            cause = "its name does not say what to write"
            raise FileProblem(output, "", cause, "end it with .html or .pdf")
        refuse_overwriting(output, [arguments.file, path])
    store = read_notes(path)
    done = opened(arguments)
    if output is None:
        _list(done, store)
    else:
        _write(output, done, store)
    return 0


def _list(opened: Opened, store: NoteStore) -> None:
    from evenweave.report.document.notes_text import notes_text

    deliver(notes_text(opened.review, store), None)


def _write(output: Path, opened: Opened, store: NoteStore) -> None:
    from evenweave.report.document.document import review_document

    progress = ProgressLine(output.name)
    try:
        document = review_document(
            opened.review, store, limits_path=opened.limits_path, progress=progress
        )
        if output.suffix.lower() == ".pdf":
            from evenweave.window.paper.paper import write_pdf

            write_pdf(output, document)
        else:
            from evenweave.report.document.html import document_html

            deliver(document_html(document), output)
    finally:
        progress.clear()
