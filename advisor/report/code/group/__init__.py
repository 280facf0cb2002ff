"""What each group before RMK says, by what it speaks of; the table that picks them stands in groups.py."""
