"""Sweeps: many runs of a case, planned, computed in parallel, stored in one folder."""
