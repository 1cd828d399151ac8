"""Small widgets, colours and words that all rooms use."""
