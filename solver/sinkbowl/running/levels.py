"""The same case on several grids, and what they tell of the error of the finest one.

The finest grid is the case's own, each of the others coarser by sqrt(2), so that three grids cost
about half more than one. The hole is treated on all of them as on the finest. Of the coarser runs
only the curves are kept, in the group `levels` of the finest run's result file; their own files are
temporary.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Literal

import h5py
import numpy as np
from numpy.typing import NDArray

from sinkbowl.case.case import WIDEST_CELL, Case
from sinkbowl.common.errors import RunError
from sinkbowl.common.shown import seconds, seconds_with, table_html, table_text
from sinkbowl.common.sinking import Sinking
from sinkbowl.files.empty_result import describe
from sinkbowl.files.record import Dataset
from sinkbowl.files.result import read_result
from sinkbowl.files.target import check_target, open_work_file
from sinkbowl.flow.layout import cell_refused, lay_out
from sinkbowl.running.convergence import LEAST_ORDER, Convergence, convergence, index
from sinkbowl.running.progress import Progress
from sinkbowl.running.runner import RunResult, run

Array = NDArray[np.float64]

RATIO = math.sqrt(2.0)
"""Coarser over finer cell from one grid to the next."""

FEWEST, MOST = 3, 5
"""Numbers of grids that can be asked for."""

POINTS = 101
"""Times at which the curves of the grids are compared."""

_LEVEL, _POINT, _CURVE = ("level",), ("point",), ("level", "point")
LEVEL_DATASETS = (
    Dataset("levels/cell", _LEVEL, "m", "size of the fine cells, finest grid first"),
    Dataset("levels/sinking_time", _LEVEL, "s", "time until the rim passed under; nan: it did not"),
    Dataset("levels/t", _POINT, "s", "times at which the curves of the grids are compared"),
    Dataset("levels/draft", _CURVE, "m", "draft on each grid"),
    Dataset("levels/inner_volume", _CURVE, "m^3", "water inside the bowl on each grid"),
    Dataset("levels/draft_uncertainty", _POINT, "m", "numerical uncertainty of the draft, 95 %"),
    Dataset(
        "levels/inner_volume_uncertainty", _POINT, "m^3", "the same of the water inside the bowl"
    ),
)


@dataclass(frozen=True, repr=False)
class Levels:
    """A case on several grids, finest first.

    Attributes
    ----------
    finest : how the run on the finest grid ended; its file holds all the rest as well
    cells, sinking_times : of each grid [m], [s]; None where the rim did not pass under
    verdict : on the sinking time; None where it is missing on one of the three finest grids
    warning : what is wrong with the sequence, in words; empty where nothing is
    """

    finest: RunResult
    cells: tuple[float, ...]
    sinking_times: tuple[float | None, ...]
    verdict: Convergence | None
    warning: str

    @property
    def uncertainty(self) -> float | None:
        """Numerical uncertainty of the sinking time on the finest grid [s], at about 95 %."""
        return self.verdict.uncertainty if self.verdict else None

    def __repr__(self) -> str:
        return table_text(self._rows(), self._title())

    def _repr_html_(self) -> str:
        return table_html(self._rows(), self._title())

    def _title(self) -> str:
        return f"{self.finest.path}: {self.finest.status}, {len(self.cells)} grids"

    def _rows(self) -> list[tuple[str, str]]:
        time = self.sinking_times[0]
        return [
            ("outcome", self.finest.outcome),
            ("sinking time", "none" if time is None else seconds_with(time, self.uncertainty)),
            *(
                (f"on cells of {1e3 * cell:.3g} mm", "none" if t is None else seconds(t))
                for cell, t in zip(self.cells, self.sinking_times, strict=True)
            ),
            *([("warning", self.warning)] if self.warning else []),
        ]


def run_levels(
    case: Case,
    output: str | Path,
    levels: int = FEWEST,
    *,
    overwrite: bool = False,
    progress: Callable[[Progress], None] | None = None,
) -> Levels:
    """Compute a sinking on several grids and write them to one result file.

    Parameters
    ----------
    case : what to sink; its own cell is the finest
    output : HDF5 file to write, that of the finest run
    levels : number of grids, 3 to 5; the three finest give the uncertainty
    overwrite : replace an existing file
    progress : called now and then with the state of the whole sequence

    Raises
    ------
    CaseError : a coarser grid cannot carry the case; nothing is written
    ResultError : the file cannot be written
    RunError : a run failed or was stopped
    """
    if not FEWEST <= levels <= MOST:
        raise ValueError(f"levels must be {FEWEST} to {MOST}, not {levels}")
    output = Path(output)
    check_target(output, overwrite)
    cases = coarser_cases(case, levels)
    cells = [lay_out(one).cell for one in cases]
    shares = [_Share(k, levels, progress) for k in range(levels)]
    curves: list[Sinking] = []
    with TemporaryDirectory() as folder:
        for k in reversed(range(levels)):
            target = Path(folder) / f"{k}.h5" if k else output
            done = run(cases[k], target, overwrite=overwrite and k == 0, progress=shares[k])
            if done.status != "finished":
                cell = f"{1e3 * cells[k]:.3g} mm"
                raise RunError(
                    f"{target}: the run on cells of {cell} {done.status}: {done.outcome}"
                )
            curves.insert(0, read_result(target).sinking())
    times = [curve.sinking_time for curve in curves]
    verdict, warning = judge(cells, times)
    store(output, cells, curves, verdict, warning)
    return Levels(done, tuple(cells), tuple(times), verdict, warning)


def coarser_cases(case: Case, levels: int) -> list[Case]:
    """The case and coarser ones with the same treatment of the hole, finest first.

    Raises
    ------
    CaseError : the coarsest grid would not show the bowl
    """
    layout = lay_out(case)
    most = WIDEST_CELL * case.bowl.rim_radius / RATIO ** (levels - 1)
    if layout.cell > most:
        raise cell_refused(
            case,
            layout.cell,
            f"is too coarse to run {levels} grids, of which it is the finest",
            f"Give at most {1e3 * most:.3g} mm.",
        )
    hole: Literal["closed", "resolved"] = "closed" if layout.closed else "resolved"
    coarser = [
        replace(case, flow=replace(case.flow, cell=layout.cell * RATIO**k, hole=hole))
        for k in range(1, levels)
    ]
    return [case, *coarser]


def judge(cells: Sequence[float], times: Sequence[float | None]) -> tuple[Convergence | None, str]:
    """Verdict on the sinking time [s] and a warning, empty where there is none."""
    known = [time for time in times[:3] if time is not None]
    if len(known) < 3:
        sunk = "on none" if not known else "only on some"
        return None, f"the rim passes under {sunk} of the three finest grids"
    verdict = convergence(cells[:3], known)
    return verdict, verdict.warning


@dataclass(frozen=True)
class _Share:
    """Progress of one grid as part of the whole sequence; a grid costs 1 / RATIO^3 of the next."""

    level: int
    levels: int
    show: Callable[[Progress], None] | None

    def __call__(self, now: Progress) -> None:
        if self.show is None:
            return
        costs = [RATIO ** (-3 * k) for k in range(self.levels)]
        before = sum(costs[self.level + 1 :])
        done = (before + costs[self.level] * now.fraction_done) / sum(costs)
        left = now.remaining_seconds
        if left is not None:
            full = left / max(1.0 - now.fraction_done, 1e-9)
            left += full * sum(costs[: self.level]) / costs[self.level]
        self.show(replace(now, fraction_done=done, remaining_seconds=left))


def store(
    path: Path,
    cells: Sequence[float],
    curves: Sequence[Sinking],
    verdict: Convergence | None,
    warning: str,
) -> None:
    """Add the group `levels` and root attributes to the finest run's file; finest curve first."""
    arrays = compared_curves(cells, curves, verdict)
    work = open_work_file(path, path)
    with h5py.File(work, "r+") as file:
        for entry in LEVEL_DATASETS:
            describe(file.create_dataset(entry.name, data=arrays[entry.column]), entry)
        file["levels"].attrs.update(
            {
                "kind": verdict.kind if verdict else "",
                "observed_order": verdict.order if verdict else np.nan,
                "gci_s": verdict.uncertainty if verdict else np.nan,
            }
        )
        file.attrs["sinking_time_uncertainty_s"] = verdict.uncertainty if verdict else np.nan
        file.attrs["levels_warning"] = warning
        file.attrs["grids"] = len(arrays["cell"])
    work.publish_last()
    if work.error is not None:
        raise RunError(
            f"{path}: what the coarser grids gave cannot be written ({work.error.strerror}). The "
            "result of the finest grid is kept without it."
        )


def compared_curves(
    cells: Sequence[float], curves: Sequence[Sinking], verdict: Convergence | None
) -> dict[str, Array]:
    """Arrays of `LEVEL_DATASETS`.

    Curves are compared up to the earliest end of any of them. Their uncertainty is the index with
    the order of the sinking time (0.5 where there is none), from the second grid or from the third,
    whichever is larger: single points of two curves may coincide by chance.
    """
    end = min(curve.sinking_time or float(curve.t[-1]) for curve in curves)
    t = np.linspace(0.0, end, POINTS)
    order = verdict.bounded_order if verdict else LEAST_ORDER
    arrays = {
        "cell": np.array(cells),
        "sinking_time": np.array([c.sinking_time or np.nan for c in curves], dtype=float),
        "t": t,
    }
    for name in ("draft", "inner_volume"):
        values = np.array([np.interp(t, curve.t, getattr(curve, name)) for curve in curves])
        arrays[name] = values
        arrays[f"{name}_uncertainty"] = np.array(
            [_pointwise(cells, column, order) for column in values.T]
        )
    return arrays


def _pointwise(cells: Sequence[float], values: Array, order: float) -> float:
    """Index of one point of a curve: the larger of those from the second and the third grid."""
    return max(index(float(values[k] - values[0]), cells[k] / cells[0], order) for k in (1, 2))
