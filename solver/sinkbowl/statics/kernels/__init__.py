"""Kernel of statics: integration of a meniscus along its arc."""
