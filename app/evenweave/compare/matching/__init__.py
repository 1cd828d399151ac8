"""Which island of one pass is which of the other, by their surface."""
