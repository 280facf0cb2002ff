"""What was found on the walk: events that are only ever added, each holding the hash of the one before."""
