"""The reader of PLY."""
