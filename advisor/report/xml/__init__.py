"""IWXXM documents, written out as the groups of the traditional code."""
