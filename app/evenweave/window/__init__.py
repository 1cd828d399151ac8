"""The Qt window. It shows reviews and asks for new ones; it does no sums."""
