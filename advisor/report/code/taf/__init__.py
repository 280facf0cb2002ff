"""What only forecasts have: their times, their change groups, and the groups of each stretch."""
