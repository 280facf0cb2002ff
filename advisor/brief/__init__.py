"""The brief: what was asked and reported becomes ordered lines with their reasons."""
