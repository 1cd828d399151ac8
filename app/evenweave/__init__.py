"""Evenweave inspects UV layouts: it measures, judges and explains them."""

from evenweave.kernel_cache import choose

__version__ = "0.1.0"

choose()
