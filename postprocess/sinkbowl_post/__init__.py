"""Figures, films and tables of results, for scripts and notebooks.

>>> from sinkbowl import load_case, read_result
>>> from sinkbowl_post import compare, curves, export, film, fit, log_trial, report
>>> result = read_result("cup.h5")
>>> print(f"{compare(result).ratio('heave'):.2f}")    # heave model over flow solver
1.02
>>> film(result, "cup.gif", tracers=True)
>>> export(result, "cup.csv")
'200 time steps'
>>> report(result, "cup.html")
>>> curves(["cup.h5", "cases/curves/steel-cup.csv"], "curves.png").left_out
()
>>> fit(load_case("cases/steel-cup.toml"), "cases/measured/steel-cup-trials.csv").best.model
'quasi-static'

>>> len(log_trial("trials.csv", hole=0.020, time=2.1).times)
1

`trace` makes such a table from a clip. Each function has a command of the same name, `log_trial`
the command `log`. Results, comparisons, curves and fits print as small tables. Names are imported
on first use.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sinkbowl_post.comparing.compare import Comparison, compare
    from sinkbowl_post.comparing.figure import comparison_figure
    from sinkbowl_post.exporting.export import export
    from sinkbowl_post.filming.film import film
    from sinkbowl_post.fitting.fit import fit
    from sinkbowl_post.fitting.trace import TraceFit
    from sinkbowl_post.fitting.trial_fit import TrialFit
    from sinkbowl_post.logbook.log import log_trial
    from sinkbowl_post.reference_curves.curves import Curves, curves
    from sinkbowl_post.reporting.report import report
    from sinkbowl_post.style import save_figure
    from sinkbowl_post.tracing.trace import trace

_HOMES = {
    "Comparison": "comparing.compare",
    "Curves": "reference_curves.curves",
    "TraceFit": "fitting.trace",
    "TrialFit": "fitting.trial_fit",
    "compare": "comparing.compare",
    "comparison_figure": "comparing.figure",
    "curves": "reference_curves.curves",
    "export": "exporting.export",
    "film": "filming.film",
    "fit": "fitting.fit",
    "log_trial": "logbook.log",
    "report": "reporting.report",
    "save_figure": "style",
    "trace": "tracing.trace",
}

__all__ = [
    "Comparison",
    "Curves",
    "TraceFit",
    "TrialFit",
    "compare",
    "comparison_figure",
    "curves",
    "export",
    "film",
    "fit",
    "log_trial",
    "report",
    "save_figure",
    "trace",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return __all__
