"""`evenweave samples`: where the bundled sample assets are, or a copy of them."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from evenweave.command.line.terminal import deliver
from evenweave.errors import FileProblem
from evenweave.places import sample_assets
from evenweave.writing import write_whole


def add(commands: Any) -> None:
    """Add this command's parser."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "samples",
        help="say where the sample assets are, or copy them",
        description="Say where the bundled sample assets are, or copy them into a folder.",
        epilog="examples:\n  evenweave samples\n  evenweave samples --copy-to lantern\n",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--copy-to", type=Path, metavar="FOLDER", help="copy them here; nothing is overwritten"
    )
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """List them, or copy them and list the copies."""
    files = sorted(path for path in sample_assets().iterdir() if path.is_file())
    if arguments.copy_to is not None:
        files = _copied(files, arguments.copy_to)
    deliver("".join(f"{path}\n" for path in files), None)
    return 0


def _copied(files: list[Path], folder: Path) -> list[Path]:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        cause = f"it cannot be made, {(error.strerror or str(error)).lower()}"
        raise FileProblem(folder, "", cause, "choose another folder") from None
    copies = [folder / path.name for path in files]
    for copy in copies:
        if copy.exists():
            raise FileProblem(copy, "", "it exists already", "choose another folder")
    for path, copy in zip(files, copies, strict=True):
        write_whole(copy, path.read_bytes(), replace=False)
    return copies
