"""Advice, and trials of it on copies: the artist's own file is never changed."""
