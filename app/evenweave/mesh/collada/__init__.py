"""The reader of COLLADA."""
