"""The reader of USD."""
