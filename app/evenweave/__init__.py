"""Evenweave inspects UV layouts: it measures, judges and explains them."""

__version__ = "0.1.0"
