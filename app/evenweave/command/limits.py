"""`evenweave limits`: write a commented file of limits to start from."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from evenweave.command.line.terminal import deliver
from evenweave.limits.file import FILE_NAME, write_limits
from evenweave.limits.limits import DEFAULT
from evenweave.limits.toml import default_toml

EXAMPLES = f"""\
examples:
  evenweave limits
  evenweave limits --output assets/{FILE_NAME}

Meshes in a folder and all folders below it are judged by the nearest {FILE_NAME}.
"""


def add(commands: Any) -> None:
    """Add this command's parser."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "limits",
        help="write the default limits, with comments",
        description="Write the default limits as a commented file to start from.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--output", type=Path, metavar="FILE", help="a new file; else the terminal is written to"
    )
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Write them, never over a file that exists."""
    if arguments.output is None:
        deliver(default_toml(), None)
    else:
        write_limits(arguments.output, DEFAULT, replace=False)
    return 0
