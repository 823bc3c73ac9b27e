"""Uncertainty of a sinking time and its contributions."""
