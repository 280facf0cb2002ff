"""From what was reported and forecast to what it may be like: columns over the cases and the time."""
