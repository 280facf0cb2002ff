"""The traditional code: every token of a METAR, SPECI or TAF goes into one group, and each group says something."""
