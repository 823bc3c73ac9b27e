"""Statics: flotation, stability, capillarity."""
