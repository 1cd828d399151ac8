"""What would help each island, as data and in words."""
