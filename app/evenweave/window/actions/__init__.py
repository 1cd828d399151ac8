"""Every action of the menus and its key."""
