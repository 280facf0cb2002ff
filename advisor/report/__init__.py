"""Reading reports: every group accounted for, nothing dropped."""
