"""Bowls that sink through a hole in the base: checks, reduced models and a flow solver.

>>> from sinkbowl import load_case, check, run          # doctest: +SKIP
>>> case = load_case("cases/steel-cup.toml")            # doctest: +SKIP
>>> check(case).verdict                                 # doctest: +SKIP
'sinks'

Names are imported on first use, so that importing the package costs nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sinkbowl.before.checking import CheckResult, check
    from sinkbowl.case.case import Case, load_case
    from sinkbowl.files.result import Result, read_result
    from sinkbowl.running.levels import Levels, run_levels
    from sinkbowl.running.progress import Progress
    from sinkbowl.running.runner import RunResult, run
    from sinkbowl.sweeps.index import Sweep, read_sweep
    from sinkbowl.sweeps.sweeping import sweep

    from .common.sinking import Sinking

_HOMES = {
    "Case": "case.case",
    "load_case": "case.case",
    "CheckResult": "before.checking",
    "check": "before.checking",
    "Levels": "running.levels",
    "run_levels": "running.levels",
    "Result": "files.result",
    "read_result": "files.result",
    "Progress": "running.progress",
    "RunResult": "running.runner",
    "run": "running.runner",
    "Sweep": "sweeps.index",
    "read_sweep": "sweeps.index",
    "sweep": "sweeps.sweeping",
    "Sinking": "common.sinking",
}

__all__ = [
    "Case",
    "CheckResult",
    "Levels",
    "Progress",
    "Result",
    "RunResult",
    "Sinking",
    "Sweep",
    "check",
    "load_case",
    "read_result",
    "read_sweep",
    "run",
    "run_levels",
    "sweep",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(f".{_HOMES[name]}", __name__), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
