"""The layout and the object, and what is shown on them."""
