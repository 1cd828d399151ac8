"""A first placing of islands, cell by cell."""
