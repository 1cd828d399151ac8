"""The reader of glTF 2.0 and GLB."""
