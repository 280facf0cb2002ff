"""The planning problem solved: which start each treatment takes, and how far from the best that can be."""
