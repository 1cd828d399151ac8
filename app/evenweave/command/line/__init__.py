"""What every command line shares: options, opening, limits, waivers, the terminal."""
