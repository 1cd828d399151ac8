"""Bowed strips made straight."""
