"""Archives: years of reports from files, in partitions, for the rules to be replayed on."""
