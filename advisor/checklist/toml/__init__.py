"""The operator's files: which ones are read, and what is wrong with them, by line and column."""
