"""The table of islands."""
