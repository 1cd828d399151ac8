"""Two passes of one asset, matched by their surface and compared."""
