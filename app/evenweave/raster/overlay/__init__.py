"""What lies over a flat picture: padding zones and mip blocks."""
