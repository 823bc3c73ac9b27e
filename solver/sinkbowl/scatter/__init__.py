"""Differences between releases of a bowl, and the interval of a sinking time."""
