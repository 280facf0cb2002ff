"""The stages of physics: each says which columns it needs and which it gives, and is a pure function."""
