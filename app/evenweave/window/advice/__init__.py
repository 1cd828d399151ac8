"""Advice, proposals and trials."""
