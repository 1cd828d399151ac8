"""Questions asked in windows of their own."""
