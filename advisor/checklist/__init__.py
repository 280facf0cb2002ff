"""The checklist: rules that operators write, and their evaluation."""
