"""Cache of compiled kernels that tolerates damaged files and a full disk.

Numba raises any exception that unpickling a truncated file gives, and disk errors when it stores a
kernel. Here an unreadable kernel is compiled and stored again, and on a full disk a kernel is
compiled for this process only.
"""

from collections.abc import Callable
from typing import Any

from numba.core.caching import FunctionCache
from numba.core.dispatcher import Dispatcher

unkept: list[str] = []
"""Reasons why kernels could not be cached, in order."""


class PatientCache(FunctionCache):
    """Numba's cache of one function, without errors."""

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """The compiled function of a signature; None if none can be read.

        Numba's own method first loads everything that compiling needs, including scipy.linalg: half
        a second that machine code does not need.
        """
        try:
            with self._guard_against_spurious_io_errors():
                return self._load_overload(sig, target_context)
        except Exception:  # bytes that are not what was written can raise anything
            self._forget()
            return None

    def save_overload(self, sig: Any, data: Any) -> None:
        """Store a compiled function if the disk allows it."""
        try:
            super().save_overload(sig, data)  # type: ignore[no-untyped-call]
        except OSError as error:
            unkept.append(str(error))
            self.disable()

    def _forget(self) -> None:
        """Empty the index, which may be damaged; the next stored function starts a new one."""
        try:
            self.flush()
        except OSError as error:
            unkept.append(str(error))
            self.disable()


def kept(compile_: Callable[..., Any], function: Callable[..., Any], **options: Any) -> Any:
    """A function compiled with its cache on disk; without a cache if no folder is writable.

    compile_ : compiler, called with these options and `cache`
    """
    try:
        compiled = compile_(function, cache=True, **options)
    except RuntimeError as error:  # numba found no folder for its cache
        unkept.append(str(error))
        return compile_(function, cache=False, **options)
    if isinstance(compiled, Dispatcher):
        compiled._cache = PatientCache(function)  # type: ignore[attr-defined]
    return compiled
