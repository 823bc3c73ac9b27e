"""Compiled kernels on disk that may be damaged, or for which the disk has no room.

Numba raises whatever unpickling makes of a file that was cut short, and the error of the disk where
a kernel cannot be kept. Neither is a reason not to compute: what cannot be read is compiled again
and written anew, and without room a kernel is compiled for this process alone.
"""

from collections.abc import Callable
from typing import Any

from numba.core.caching import FunctionCache
from numba.core.dispatcher import Dispatcher

unkept: list[str] = []
"""Why kernels could not be kept, in the order in which that was found."""


class PatientCache(FunctionCache):
    """Numba's cache of one function, which never stands in the way."""

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """The compiled function of a signature; None where there is none that can be read.

        Numba's own does this with all that compiling needs loaded before, scipy.linalg included:
        half a second that machine code does not need.
        """
        try:
            with self._guard_against_spurious_io_errors():
                return self._load_overload(sig, target_context)
        except Exception:  # bytes that are not what was written can raise anything
            self._forget()
            return None

    def save_overload(self, sig: Any, data: Any) -> None:
        """Keep a compiled function where the disk takes it."""
        try:
            super().save_overload(sig, data)  # type: ignore[no-untyped-call]
        except OSError as error:
            unkept.append(str(error))
            self.disable()

    def _forget(self) -> None:
        """Empty the index, which may be what is damaged: the next that is kept begins it anew."""
        try:
            self.flush()
        except OSError as error:
            unkept.append(str(error))
            self.disable()


def kept(compile_: Callable[..., Any], function: Callable[..., Any], **options: Any) -> Any:
    """A function compiled with its cache on disk; without one where no folder can be written.

    Parameters
    ----------
    compile_ : what compiles it, with these options and `cache`
    """
    try:
        compiled = compile_(function, cache=True, **options)
    except RuntimeError as error:  # numba found no folder for its cache
        unkept.append(str(error))
        return compile_(function, cache=False, **options)
    if isinstance(compiled, Dispatcher):
        compiled._cache = PatientCache(function)  # type: ignore[attr-defined]
    return compiled
