"""What a plan is made from as files: schedule, pads and the operator's holdover times."""
