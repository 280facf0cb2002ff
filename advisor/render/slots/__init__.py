"""A plan of slots for people: text, page and files."""
