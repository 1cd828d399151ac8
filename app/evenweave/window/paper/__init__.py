"""Documents laid out on paper."""
