"""Compilation of all kernels by numba, and the cache of their machine code.

Importing this package sets the cache folder, so it must be imported before numba compiles anything.
The folder's name contains a hash of the sources of all kernels, of the flow and of the reduced
models: after a change in any of them, also of a callee or a constant, no stale machine code is
used.
"""

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
import platformdirs

from .cache import HOME_KEY, kept, place_for

F = TypeVar("F", bound=Callable[..., Any])

SOURCES = tuple(sorted(Path(__file__).parents[1].glob("*/kernels/*.py")))
"""Files of all kernels."""


def _source_hash() -> str:
    digest = hashlib.sha256(numba.__version__.encode())
    for source in (Path(__file__), *SOURCES):
        digest.update(f"{source.parents[1].name}/{source.name}".encode())
        digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


_home = os.environ.get(HOME_KEY) or platformdirs.user_cache_dir("sinkbowl")
CACHE = place_for(Path(_home), "kernels", _source_hash())
"""Folder of the compiled kernels."""

numba.config.CACHE_DIR = str(CACHE)  # type: ignore[attr-defined]


def kernel(function: F) -> F:
    """Compile a kernel: cached, no fast-math, numpy's division."""
    return cast(F, kept(_compiled, function))


def part(function: F) -> F:
    """Compile a function that only kernels call; it has no cache of its own.

    Calling it from Python ends the process with a segmentation fault.
    """
    return _compiled(function, no_cpython_wrapper=True)


def _compiled(function: F, **options: bool) -> F:
    """Common options: no reference counting, no entry for C.

    Kernels allocate nothing and their callers own the arrays (`_nrt`); a kernel that allocates does
    not compile.
    """
    compiler: Any = numba.njit
    plain = {"nogil": True, "error_model": "numpy", "no_cfunc_wrapper": True, "_nrt": False}
    return cast(F, compiler(**plain, **options)(function))
