"""Reviews become pictures, tables, notes and machine-readable results. Reads no mesh files."""
