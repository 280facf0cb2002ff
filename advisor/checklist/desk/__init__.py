"""The operator's desk: what helps to write a checklist."""
