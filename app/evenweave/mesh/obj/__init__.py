"""The reader of OBJ."""
