"""Placed islands moved closer together by linear programmes."""
