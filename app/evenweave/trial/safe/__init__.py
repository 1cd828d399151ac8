"""The steps that only make a layout better, done together on a copy."""
