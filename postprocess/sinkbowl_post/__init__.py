"""What is made of results, for scripts and notebooks.

>>> from sinkbowl_post import load_result, compare, film      # doctest: +SKIP
>>> result = load_result("my-bowl.h5")                        # doctest: +SKIP
>>> result.history["draft"], result.history.units["draft"]    # doctest: +SKIP
>>> compare(result)                                           # doctest: +SKIP
>>> film(result, "my-bowl.mp4", tracers=True)                 # doctest: +SKIP

Everything is imported on first use. In a notebook, results, comparisons and checks show themselves
as small tables.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sinkbowl.files.result import read_result as load_result
    from sinkbowl_post.compare.compare import Comparison, compare
    from sinkbowl_post.compare.figure import comparison_figure
    from sinkbowl_post.export.export import export
    from sinkbowl_post.film.film import make_film as film
    from sinkbowl_post.report.report import make_report as report
    from sinkbowl_post.style import save_figure

_HOMES = {
    "load_result": ("sinkbowl.files.result", "read_result"),
    "Comparison": ("sinkbowl_post.compare.compare", "Comparison"),
    "comparison_figure": ("sinkbowl_post.compare.figure", "comparison_figure"),
    "save_figure": ("sinkbowl_post.style", "save_figure"),
}
_CALLED = ("compare", "export", "film", "report")
"""Packages that can be called; see called.py."""

__all__ = [
    "Comparison",
    "compare",
    "comparison_figure",
    "export",
    "film",
    "load_result",
    "report",
    "save_figure",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        module, own_name = _HOMES[name]
        return getattr(import_module(module), own_name)
    if name in _CALLED:
        return import_module(f"{__name__}.{name}")
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
