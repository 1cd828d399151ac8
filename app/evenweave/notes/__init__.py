"""Notes pinned to a layout and waivers of warnings, kept in a file beside the mesh."""
