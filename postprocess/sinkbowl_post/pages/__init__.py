"""Texts printed by the commands."""
