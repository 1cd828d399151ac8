"""Every quantity that is shown: its name, unit, format, colours, meaning, formula and source."""
