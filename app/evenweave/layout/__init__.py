"""An `Asset` becomes layouts, islands and edges."""
