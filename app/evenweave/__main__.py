"""`python -m evenweave`."""

from evenweave.cli import program

program()
