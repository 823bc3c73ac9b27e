"""Traces of depth against time from clips of a sinking bowl."""
