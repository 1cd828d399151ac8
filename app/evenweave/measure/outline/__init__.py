"""Borders of islands and folds, as segments."""
