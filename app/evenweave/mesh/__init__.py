"""Files become an `Asset`: the front door and one reader for each family of formats."""
