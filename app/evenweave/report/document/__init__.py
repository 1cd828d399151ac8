"""The review document, as data and as a page."""
