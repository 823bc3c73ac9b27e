"""Measured trials or a trace beside a comparison: a row of its table, marks in its figure.

Of a table of trials those count that have the hole and the mass of the compared bowl, within two
standard uncertainties or half a per cent.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.confidence import LEVEL, QUANTILE
from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import FloatArray
from sinkbowl_post.measured.measured import Trace, Trial, Trials
from sinkbowl_post.measured.odd_times import refuse_odd_time
from sinkbowl_post.style import INK, Line, seconds, seconds_with

SAME = 0.005
"""Relative difference up to which a hole or a mass is the same."""

MEASURED = Line("measured", INK, (), 3.0)


@dataclass(frozen=True, eq=False)
class Overlay:
    """What was measured of one bowl.

    Attributes
    ----------
    times : (n,) of trials until the rim was under [s]; none for a trace
    timing : (n,) their standard uncertainties [s]
    plugged : trials of this bowl that stayed plugged
    left_out : trials with another hole or mass
    trace : None for trials
    reached : time at which the trace's draft reaches the rim [s], None where it does not
    """

    times: FloatArray
    timing: FloatArray
    plugged: int
    left_out: int
    trace: Trace | None
    reached: float | None

    @property
    def time(self) -> float | None:
        """Measured sinking time [s]: the trials' mean, or where the trace reaches the rim."""
        return float(np.mean(self.times)) if self.times.size else self.reached

    @property
    def half_width(self) -> float | None:
        """Half the interval of the trials' mean, 95 % [s]; None for a trace."""
        return None if self.uncertainty is None else QUANTILE * self.uncertainty

    @property
    def uncertainty(self) -> float | None:
        """Standard uncertainty of the trials' mean, from their timing [s]; None for a trace."""
        if not self.times.size:
            return None
        return float(np.sqrt(np.sum(self.timing**2))) / self.times.size

    def row(self, flow_time: float | None) -> tuple[str, str, str, str]:
        """Cells of the comparison's table."""
        told = "" if self.time is None else seconds(self.time)
        if self.half_width is not None and self.time is not None:
            told = f"{seconds_with(self.time, self.half_width)} (95 %)"
        ratio = self._ratio(flow_time)
        count = "film" if self.trace is not None else _trials(self.times.size)
        if self.plugged:
            told = f"{told}, {self.plugged} plugged".lstrip(", ")
        return f"measured, {count}", told, "" if ratio is None else f"{ratio:.3f}", ""

    def as_dict(self, flow_time: float | None) -> dict[str, Any]:
        """The figures, ready for JSON."""
        return {
            "kind": "trials" if self.trace is None else "trace",
            "sinking_time_s": self.time,
            "standard_uncertainty_s": self.uncertainty,
            "half_width_s": self.half_width,
            "level": LEVEL,
            "ratio_to_flow": self._ratio(flow_time),
            "trials": self.times.size,
            "plugged": self.plugged,
            "left_out": self.left_out,
        }

    def _ratio(self, flow_time: float | None) -> float | None:
        return self.time / flow_time if self.time is not None and flow_time else None


def overlay_of(case: Case, measured: Trials | Trace) -> Overlay:
    """Pick what was measured of a case's bowl.

    Raises
    ------
    CaseError : no trial has its hole and mass
    """
    nothing = np.zeros(0)
    if isinstance(measured, Trace):
        under = np.flatnonzero(measured.draft >= case.bowl.rim_height)
        reached = float(measured.t[under[0]]) if under.size else None
        return Overlay(nothing, nothing, 0, 0, measured, reached)
    mine = [trial for trial in measured.trials if _same(trial, case)]
    if not mine:
        holes = sorted({trial.hole or case.hole.diameter for trial in measured.trials})
        raise CaseError(
            f"Has no trial with a hole of {case.hole.diameter * 1e3:.4g} mm and a mass of "
            f"{case.total_mass * 1e3:.4g} g",
            file=measured.path,
            allowed=f"Its holes are {', '.join(f'{d * 1e3:.4g}' for d in holes)} mm.",
        )
    sunk = [trial for trial in mine if trial.time is not None]
    for trial in sunk:
        refuse_odd_time(case, trial.time or 0.0, measured.path, trial.row)
    timing = [trial.time_uncertainty or case.spread.timing for trial in sunk]
    return Overlay(
        times=np.array([trial.time for trial in sunk], dtype=float),
        timing=np.array(timing, dtype=float),
        plugged=len(mine) - len(sunk),
        left_out=len(measured.trials) - len(mine),
        trace=None,
        reached=None,
    )


def _same(trial: Trial, case: Case) -> bool:
    pairs = (
        (trial.hole, case.hole.diameter, trial.hole_uncertainty),
        (trial.mass, case.total_mass, trial.mass_uncertainty),
    )
    return all(
        given is None or abs(given - own) <= max(SAME * own, 2.0 * (uncertainty or 0.0))
        for given, own, uncertainty in pairs
    )


def _trials(count: int) -> str:
    return "one trial" if count == 1 else f"{count} trials"
