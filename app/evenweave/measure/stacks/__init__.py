"""Islands that are congruent."""
