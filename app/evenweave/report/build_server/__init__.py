"""Results in the formats of build servers."""
