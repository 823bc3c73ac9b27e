"""Compiled kernels: pure functions on arrays that know nothing of files, units or options.

Importing this package settles where compiled code is kept, so it must be imported before numba
compiles anything: the folder's name carries a hash of all kernel sources, so that a change in any
of them, a callee or a constant included, never meets stale machine code.
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


def _source_hash() -> str:
    digest = hashlib.sha256(numba.__version__.encode())
    for source in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(source.name.encode())
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
