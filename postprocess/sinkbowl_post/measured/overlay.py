"""Measured trials or a trace in a comparison: row of its table, marks in its figure.

Trials count if hole and mass are those of the compared bowl, within two standard uncertainties or
half a per cent. With a trace goes the root mean square difference of each model's draft from it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common import LEVEL
from sinkbowl.common.errors import CaseError
from sinkbowl.common.shown import plural
from sinkbowl.common.sinking import Sinking
from sinkbowl_post.measured.mean_time import MeanTime, mean_time, refuse_odd_time
from sinkbowl_post.measured.measured import PLUGGED, Trace, Trial, Trials, counted, counted_words
from sinkbowl_post.style import INK, LineStyle, seconds_with

SAME = 0.005  # relative difference up to which holes or masses are equal

MEASURED = LineStyle("measured", INK, (), 3.0)


@dataclass(frozen=True, eq=False)
class Overlay:
    """Measurements of one bowl.

    timed : mean and interval of the trials that sank; None for a trace, or if none did
    failed : numbers of other outcomes
    left_out : trials with another hole or mass
    trace : None for trials
    reached : time at which the trace's draft reaches the rim [s], None if it does not
    """

    timed: MeanTime | None
    failed: Mapping[str, int]
    left_out: int
    trace: Trace | None
    reached: float | None

    @property
    def times(self) -> tuple[float, ...]:
        """Times of the trials until the rim was under [s]; empty for a trace."""
        return () if self.timed is None else self.timed.times

    @property
    def time(self) -> float | None:
        """Measured sinking time [s]: the trials' mean, or by the trace."""
        return self.reached if self.timed is None else self.timed.mean

    @property
    def half_width(self) -> float | None:
        """Half the interval of the trials' mean, 95 % [s]; None for a trace."""
        return None if self.timed is None else self.timed.half_width

    @property
    def words(self) -> str:
        """Sentences on trials that are suspect, without a time or left out, or a trace's end."""
        suspect = "" if self.timed is None else self.timed.suspect_words
        others = plural(self.left_out, "trial")
        left_out = f"Not used, with another hole or mass: {others}." if self.left_out else ""
        failed = f"Without a time: {counted_words(self.failed)}." if self.failed else ""
        ends = "The trace ends above this bowl's rim." if self.trace and not self.reached else ""
        return " ".join(part for part in (suspect, failed, left_out, ends) if part)

    def row(self, flow_time: float | None, longest: float | None) -> tuple[str, str, str, str]:
        """Cells of the comparison's table; longest as for `seconds`."""
        text = "" if self.time is None else seconds_with(self.time, self.half_width, longest)
        ratio = self._ratio(flow_time)
        count = "film" if self.trace is not None else plural(len(self.times), "trial")
        return f"measured, {count}", text, "" if ratio is None else f"{ratio:.3f}", ""

    def as_dict(self, flow_time: float | None) -> dict[str, Any]:
        """Numbers for JSON."""
        timed = {} if self.timed is None else self.timed.as_dict()
        return {
            "kind": "trials" if self.trace is None else "trace",
            "sinking_time_s": self.time,
            "standard_uncertainty_s": self.timed.uncertainty if self.timed else None,
            "half_width_s": self.half_width,
            "level": LEVEL,
            "ratio_to_flow": self._ratio(flow_time),
            "trials": len(self.times),
            "scatter_s": timed.get("scatter_s"),
            "suspect_row": timed.get("suspect_row"),
            "plugged": self.failed.get(PLUGGED, 0),
            "failed": dict(self.failed),
            "left_out": self.left_out,
        }

    def _ratio(self, flow_time: float | None) -> float | None:
        return self.time / flow_time if self.time is not None and flow_time else None


def overlay_of(case: Case, measured: Trials | Trace) -> Overlay:
    """Measurements of a case's bowl; CaseError if no trial has its hole and mass."""
    if isinstance(measured, Trace):
        under = np.flatnonzero(measured.draft >= case.bowl.rim_height)
        reached = float(measured.t[under[0]]) if under.size else None
        return Overlay(None, {}, 0, measured, reached)
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
        refuse_odd_time(case, trial, measured.path)
    return Overlay(
        timed=mean_time(sunk, case),
        failed=counted(mine),
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


def trace_rms(trace: Trace, curves: Mapping[str, Sinking]) -> dict[str, float | None]:
    """Root mean square of model minus measured draft [m], by the names of the curves.

    Every curve is compared at the same instants: from release until the first of them has its rim
    under. None without such instants.
    """
    ends = [curve.events.get("rim_under", float(curve.t[-1])) for curve in curves.values()]
    seen = (trace.t >= 0.0) & (trace.t <= min(ends))
    if not seen.any():
        return dict.fromkeys(curves)
    t, draft = trace.t[seen], trace.draft[seen]
    return {
        name: float(np.sqrt(np.mean((np.interp(t, curve.t, curve.draft) - draft) ** 2)))
        for name, curve in curves.items()
    }


def rms_words(rms: Mapping[str, float | None]) -> str:
    """A sentence, or empty."""
    text = [
        f"{'flow solver' if name == 'flow' else name} {value * 1e3:.2g} mm"
        for name, value in rms.items()
        if value is not None
    ]
    return f"Off the trace, rms of the draft: {', '.join(text)}." if text else ""
