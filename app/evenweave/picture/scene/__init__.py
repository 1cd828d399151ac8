"""What is drawn: triangles, colours, lines, places."""
