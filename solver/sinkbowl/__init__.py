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
    from sinkbowl.case.case import Case, load_case
    from sinkbowl.running.levels import Levels
    from sinkbowl.running.members import Members, run_levels, run_members
    from sinkbowl.running.progress import Progress
    from sinkbowl.running.result import Result, read_result
    from sinkbowl.running.runner import RunResult, run
    from sinkbowl.running.sweep_index import Sweep, read_sweep
    from sinkbowl.running.sweeping import sweep
    from sinkbowl.statics.checking import CheckResult, check

    from .sinking import Sinking

_HOMES = {
    "Case": "case.case",
    "load_case": "case.case",
    "CheckResult": "statics.checking",
    "check": "statics.checking",
    "Levels": "running.levels",
    "Members": "running.members",
    "run_levels": "running.members",
    "run_members": "running.members",
    "Result": "running.result",
    "read_result": "running.result",
    "Progress": "running.progress",
    "RunResult": "running.runner",
    "run": "running.runner",
    "Sweep": "running.sweep_index",
    "read_sweep": "running.sweep_index",
    "sweep": "running.sweeping",
    "Sinking": "sinking",
}

__all__ = [
    "Case",
    "CheckResult",
    "Levels",
    "Members",
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
    "run_members",
    "sweep",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(f".{_HOMES[name]}", __name__), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
