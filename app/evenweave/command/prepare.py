"""`evenweave prepare`: compile all that is compiled, once, so that the first file opens fast."""

from __future__ import annotations

import argparse
from typing import Any

from evenweave.command.line.terminal import ProgressLine


def add(commands: Any) -> None:
    """Add this command's parser."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "prepare",
        help="compile once after installing, so that the first file opens fast",
        description="Compile once after installing, so that the first file opens fast. Some "
        "minutes the first time, some seconds after that.",
    )
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Compile, showing progress on a terminal."""
    from evenweave.warm import warm

    progress = ProgressLine("Preparing")
    try:
        warm(progress)
    finally:
        progress.clear()
    return 0
