"""Versions of the record's tables, in order."""
