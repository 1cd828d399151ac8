"""The rows of tools over the views: layout, look, layers, colours."""
