"""Where an island should be cut."""
