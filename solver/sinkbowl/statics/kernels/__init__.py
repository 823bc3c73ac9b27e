"""Kernels of statics: a meniscus along its arc, water in a bowl that heels."""
