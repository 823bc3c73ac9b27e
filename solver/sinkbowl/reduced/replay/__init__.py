"""Replay: what the flow says of each equation of a model."""
