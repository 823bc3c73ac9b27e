"""Compiled kernels: pure functions on arrays, without files, units or options."""

from sinkbowl.compiled import CACHE, kernel, part

__all__ = ["CACHE", "kernel", "part"]
