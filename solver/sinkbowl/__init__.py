"""Bowls that sink through a hole in the base: checks, reduced models and a flow solver.

>>> from sinkbowl import check, load_case, read_result, run, size
>>> case = load_case("cases/steel-cup-wide-hole.toml")
>>> check(case).verdict
'sinks'
>>> print(f"{1e3 * size(case, 0.5).value:.0f} mm")    # the hole for half a second
40 mm
>>> run(case, "cup.h5").status
'finished'
>>> read_result("cup.h5").history.units["draft"]
'm'

Numbers are SI. Names are imported on first use, so that importing the package costs nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sinkbowl.case.case import Case, load_case
    from sinkbowl.common.sinking import Sinking
    from sinkbowl.design.checking import CheckResult, check
    from sinkbowl.design.sizing.sized import Sized
    from sinkbowl.design.sizing.sizing import size
    from sinkbowl.files.result import Result, read_result
    from sinkbowl.running.members import run_grids, run_members
    from sinkbowl.running.merging import Grids, Members
    from sinkbowl.running.runner import Progress, RunResult, run
    from sinkbowl.sweeps.index import Sweep, read_sweep
    from sinkbowl.sweeps.sweeping import sweep

_NAMES = {
    "case.case": "Case load_case",
    "common.sinking": "Sinking",
    "design.checking": "CheckResult check",
    "design.sizing.sized": "Sized",
    "design.sizing.sizing": "size",
    "files.result": "Result read_result",
    "running.members": "run_grids run_members",
    "running.merging": "Grids Members",
    "running.runner": "Progress RunResult run",
    "sweeps.index": "Sweep read_sweep",
    "sweeps.sweeping": "sweep",
}
_HOMES = {name: module for module, names in _NAMES.items() for name in names.split()}

_OLD_NAMES = {"Levels": "Grids", "run_levels": "run_grids"}

__all__ = [
    "Case",
    "CheckResult",
    "Grids",
    "Members",
    "Progress",
    "Result",
    "RunResult",
    "Sinking",
    "Sized",
    "Sweep",
    "check",
    "load_case",
    "read_result",
    "read_sweep",
    "run",
    "run_grids",
    "run_members",
    "size",
    "sweep",
]


def __getattr__(name: str) -> Any:
    name = _OLD_NAMES.get(name, name)
    if name in _HOMES:
        return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return __all__
