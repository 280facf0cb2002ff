"""A plan of de-icing slots for a bank of departures: who needs one, when, where, and for how long it holds."""
