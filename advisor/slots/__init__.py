"""A plan of de-icing slots for a bank of departures: need, pads, starts, holdover, what changed. Loaded when first used."""
