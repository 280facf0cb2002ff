"""The pictures: what they show as data, and how it is drawn."""
