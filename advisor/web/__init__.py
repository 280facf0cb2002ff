"""The page and the API: the room that listens on a socket and reads the wall clock."""
