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

F = TypeVar("F", bound=Callable[..., Any])


def _source_hash() -> str:
    digest = hashlib.sha256(numba.__version__.encode())
    for source in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(source.name.encode())
        digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


_home = os.environ.get("NUMBA_CACHE_DIR") or platformdirs.user_cache_dir("sinkbowl")
numba.config.CACHE_DIR = str(  # type: ignore[attr-defined]
    Path(_home) / "kernels" / _source_hash()
)


OPTIONS: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy"}
"""Compiled code is kept; no fast-math; numpy's division."""


def kernel(function: F) -> F:
    """Compile a kernel the one way used everywhere.

    Kernels allocate nothing, so references to arrays need not be counted (`_nrt`), which costs as
    much as the work on small arrays.
    """
    return cast(F, cast(Any, numba.njit)(_nrt=False, **OPTIONS)(function))


def allocating_kernel(function: F) -> F:
    """The same for a kernel that makes an array of its own."""
    return cast(F, numba.njit(**OPTIONS)(function))
