"""The grid's lines, and the bowl on it."""
