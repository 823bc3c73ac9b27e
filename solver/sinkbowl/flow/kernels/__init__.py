"""Compiled kernels: pure functions on arrays that know nothing of files, units or options."""

from sinkbowl.compiled import CACHE, kernel, part

__all__ = ["CACHE", "kernel", "part"]
