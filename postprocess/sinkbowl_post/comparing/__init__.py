"""Comparison of a run with the reduced models, or of several runs."""
