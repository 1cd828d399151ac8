"""Pictures: everything that ends in pixels or SVG."""
