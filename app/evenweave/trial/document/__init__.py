"""The copy that trials change, and what a layout as a whole could gain."""
