"""Physics over arrays: pure functions, the unit in the name, missing is NaN."""
