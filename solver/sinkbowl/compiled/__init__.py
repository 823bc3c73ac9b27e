"""The one way in which functions are compiled by numba, and where their machine code is kept.

Importing this package settles the folder of the cache, so it must be imported before numba compiles
anything: the folder's name carries a hash of the sources of all kernels, those of the flow and
those of the reduced models, so that a change in any of them, a callee or a constant included, never
meets stale machine code.
"""

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
import platformdirs

from .cache import kept
from .place import HOME_KEY, place_for

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
    """Compile a kernel the one way used everywhere: cached, no fast-math, numpy's division."""
    return cast(F, kept(_compiled, function))


def part(function: F) -> F:
    """Compile what kernels alone call: not kept by itself, since it is inside each of them.

    Python cannot call it: that ends the process with a segmentation fault.
    """
    return _compiled(function, no_cpython_wrapper=True)


def _compiled(function: F, **options: bool) -> F:
    """What is the same for all: no counting of references, no way in for C.

    Kernels allocate nothing and their callers hold the arrays (`_nrt`); one that allocates does not
    compile.
    """
    compiler: Any = numba.njit
    plain = {"nogil": True, "error_model": "numpy", "no_cfunc_wrapper": True, "_nrt": False}
    return cast(F, compiler(**plain, **options)(function))
