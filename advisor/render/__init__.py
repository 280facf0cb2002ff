"""How a brief is shown: text, JSON, pages and pictures, all from the same numbers."""
