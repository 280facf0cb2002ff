"""The rule language: what a condition is made of, and what it says over the columns."""
