"""Comparison of a flow run with the reduced models: times, ratios, discharge coefficients.

The effective discharge coefficient is that of Torricelli's law over the middle half of the filling,
C_d = int Q dt / (a int sqrt(2 g head) dt), Q the flow through the hole and a its area: an average
insensitive to waves on the inner surface.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.shown import Shown, TextTable, seconds_with
from sinkbowl.common.sinking import Best, FloatArray, Sinking, closed_air_words
from sinkbowl.corrected import model as corrected
from sinkbowl.corrected.model import Corrected
from sinkbowl.files.result import Result, read_result
from sinkbowl.reduced import MODELS, heave, sinkings
from sinkbowl.reduced.attribution.attribute import Reasons, attribute
from sinkbowl.reduced.attribution.flow_course import Record
from sinkbowl.reduced.stages import Stages, stages_of_heave
from sinkbowl.scatter.interval import GRIDS, MEMBERS, TimeInterval, figures, next_run, time_text
from sinkbowl_post.comparing.reasons import record_of, result_stages
from sinkbowl_post.measured.measured import Measured, as_measured
from sinkbowl_post.measured.overlay import Overlay, overlay_of, rms_words, trace_rms

HEADINGS = ("", "rim under after", "model / best", "C_d mid-filling")
MIDDLE = (0.25, 0.75)  # of the water that comes in until the rim is under


@dataclass(frozen=True, repr=False)
class Comparison(Shown):
    """One run and the reduced models of the same case.

    Attributes
    ----------
    flow : the flow solver's history
    models : the reduced models' histories, by name
    discharge : effective discharge coefficient of "flow" and each model, or None
    interval : of the flow solver's sinking time, or None
    member_times : sinking time of each member [s]
    members : history of each member, a single run being its own; columns of `MEMBER_HISTORY`
    warning : about its grids, in words, or empty
    case, record : bowl and run for the attribution; None: without
    corrected : the best estimate of the case; its sinking is among the models if it is corrected
    closed_air : time [s] and volume [m^3] of the first closed-off air, or None
    stages : of the water inside, by "flow" and "heave", if known
    overlay : measurements of the bowl, or None
    """

    title: str
    flow: Sinking
    models: Mapping[str, Sinking]
    discharge: Mapping[str, float | None]
    interval: TimeInterval | None = None
    warning: str = ""
    members: Sequence[Mapping[str, FloatArray]] = ()
    member_times: Sequence[float | None] = ()
    case: Case | None = None
    record: Record | None = None
    closed_air: tuple[float, float] | None = None
    stages: Mapping[str, Stages] = field(default_factory=dict)
    corrected: Corrected | None = None
    overlay: Overlay | None = None

    @cached_property
    def reasons(self) -> dict[str, Reasons | None]:
        """Causes of each model's difference; None if model or flow have no time."""
        if self.case is None or self.record is None:
            return dict.fromkeys(name for name in self.models if name in MODELS)
        times = {name: model.sinking_time for name, model in self.models.items() if name in MODELS}
        return attribute(self.case, self.record, times, self.flow.sinking_time)

    @property
    def half_width(self) -> float | None:
        """Half-width of the interval of the flow's time [s], or None."""
        return None if self.interval is None else self.interval.half

    @property
    def best_time(self) -> float | None:
        """The flow's best time [s]; without an interval that of its run."""
        return self.interval.time if self.interval else self.flow.sinking_time

    @property
    def table(self) -> TextTable:
        """Time, ratio to the best and discharge coefficient of flow, models and measurements."""
        rows: list[tuple[str, ...]] = []
        end = self.interval.best.interval[1] if self.interval else None
        for name, sinking in {"flow": self.flow, **self.models}.items():
            ratio = self.ratio(name) if name in self.models else None
            text = (
                "flow solver" if name == "flow" else name,
                _text(sinking, self.best_of(name), end),
                *("" if one is None else f"{one:.3f}" for one in (ratio, self.discharge[name])),
            )
            rows.append(text)
        if self.overlay is not None and self.overlay.time is not None:
            rows.append(self.overlay.row(self.best_time, end))
        return TextTable(rows, self.title, HEADINGS, self.remarks)

    @property
    def remarks(self) -> str:
        """Sentences on the interval's parts, grids, theory without correction, measurements."""
        grids = f"Grids: {self.warning}." if self.warning else ""
        air = closed_air_words(self.air_before_the_rim, self.flow.sinking_time)
        words = self.interval.words if self.interval else ""
        by_map = self.corrected and self.corrected.correction.reason
        alone = f"Heave is not corrected, its ± of theory alone: {by_map}." if by_map else ""
        beside = (self.overlay.words if self.overlay else "", rms_words(self.rms))
        found = (words, grids, f"{air}." if air else "", alone, *beside)
        return " ".join(part for part in found if part)

    @property
    def rms(self) -> dict[str, float | None]:
        """Root mean square difference [m] of each curve's draft from a trace; empty without one."""
        if self.overlay is None or self.overlay.trace is None:
            return {}
        return trace_rms(self.overlay.trace, {"flow": self.flow, **self.models})

    @property
    def air_before_the_rim(self) -> tuple[float, float] | None:
        """`closed_air` of before the rim was under; later air changes no time."""
        if self.closed_air and self.closed_air[0] < (self.flow.sinking_time or math.inf):
            return self.closed_air
        return None

    def best_of(self, name: str) -> Best | None:
        """The best time by "flow" or the best estimate; None for other models."""
        by_map = corrected.MODEL if corrected.MODEL in self.models else heave.MODEL
        if name == by_map and self.corrected is not None:
            return self.corrected.best
        return self.interval.best if name == "flow" and self.interval else None

    def ratio(self, model: str) -> float | None:
        """Sinking time of a model over the best; None if one of them is missing."""
        found = self.models.get(model)
        return None if found is None else _over(found.sinking_time, self.best_time)

    def as_dict(self) -> dict[str, Any]:
        """The comparison as numbers for JSON."""
        return {
            "title": self.title,
            "best": self.interval.best.as_dict() if self.interval else None,
            "flow": self._figures("flow", self.flow)
            | figures(self.interval)
            | {
                "members": self.interval.members if self.interval else 1,
                "sinking_time_uncertainty_s": self._grid_error(),
                "grids_warning": self.warning,
                "air_closed_off_s": self.closed_air[0] if self.closed_air else None,
                "air_closed_off_m3": self.closed_air[1] if self.closed_air else None,
            },
            "repeat_runs": self._repeat_runs(),
            "reduced": {
                name: self._figures(name, model)
                | {
                    "ratio_to_flow": _over(model.sinking_time, self.flow.sinking_time),
                    "ratio_to_best": self.ratio(name),
                }
                for name, model in self.models.items()
            },
            "corrected": None if self.corrected is None else self.corrected.as_dict(),
            "stages_s": {name: one._asdict() for name, one in self.stages.items()},
            "reasons": {
                name: None if one is None else one.as_dict() for name, one in self.reasons.items()
            },
            **self._measured(),
        }

    def _measured(self) -> dict[str, Any]:
        if self.overlay is None:
            return {}
        found = self.overlay.as_dict(self.flow.sinking_time)
        return {"measured": found | {"rms_draft_m": self.rms}}

    def _grid_error(self) -> float | None:
        """Grid error of the sinking time [s], with several grids."""
        known = self.interval is not None and self.interval.grid_from == GRIDS
        return self.interval.grid if known and self.interval else None

    def _repeat_runs(self) -> dict[str, Any] | None:
        """A row of the table of repeat runs (scatter/repeat_runs.csv), with several members."""
        found = self.interval
        if found is None or found.scatter_from != MEMBERS:
            return None
        error = self._grid_error()
        return {
            "hole_ratio": found.hole_ratio,
            "scatter": next_run([time for time in self.member_times if time]) / found.mean,
            "grid": None if error is None else error / found.mean,
            "made_of": f"{self.title}, {found.members} members",
        }

    def _figures(self, name: str, sinking: Sinking) -> dict[str, Any]:
        return {
            "sinking_time_s": sinking.sinking_time,
            "discharge_coefficient": self.discharge[name],
            "outcome": sinking.words,
        }


def compare(result: Result | str | Path, measured: Measured | None = None) -> Comparison:
    """Compare a result, or a result file, with the reduced models of its case.

    measured : own trials or trace of the bowl: a file, .csv, or times [s, or text with a unit]

    Raises ResultError if the file, or the case in it, cannot be read; CaseError if the measurements
    cannot be read or have no trial of the bowl.
    """
    result = read_result(result)
    case = result.case
    flow = result.sinking()
    models = sinkings(case)
    by_map = corrected.corrected(case, models[heave.MODEL])
    if not by_map.correction.reason:
        models = {corrected.MODEL: by_map.sinking, **models}
    area = None if case.base_gone else case.hole.area
    stages = {
        "flow": result_stages(result),
        heave.MODEL: stages_of_heave(case, models[heave.MODEL]),
    }
    return Comparison(
        title=result.title,
        flow=flow,
        models=models,
        discharge={
            name: discharge_coefficient(sinking, area) if area else None
            for name, sinking in {"flow": flow, **models}.items()
        },
        interval=result.interval,
        members=[result.member(k) for k in range(result.members)],
        member_times=result.member_times,
        warning=result.grids_warning,
        closed_air=result.closed_air,
        stages={name: one for name, one in stages.items() if one is not None},
        case=case,
        record=record_of(result),
        corrected=by_map,
        overlay=None if measured is None else overlay_of(case, as_measured(measured)),
    )


def discharge_coefficient(sinking: Sinking, hole_area: float) -> float | None:
    """Effective discharge coefficient over the middle half of the filling [1].

    sinking : history of a run or a reduced model
    hole_area : [m^2]

    None without a head over the hole.
    """
    end = sinking.events.get("rim_under", math.inf)
    inside = sinking.inner_volume
    gained = inside[sinking.t <= end]
    if len(gained) < 2:
        return None
    share = (inside - gained[0]) / max(gained[-1] - gained[0], 1e-30)
    middle = (share >= MIDDLE[0]) & (share <= MIDDLE[1]) & (sinking.t <= end)
    t, head = sinking.t[middle], np.maximum(sinking.head[middle], 0.0)
    ideal = hole_area * float(np.trapezoid(np.sqrt(2 * GRAVITY * head), t))
    return float(np.trapezoid(sinking.hole_flow[middle], t)) / ideal if ideal > 0 else None


def run_words(
    outcome: str,
    time: float | None,
    interval: TimeInterval | None,
    coefficient: float | None,
    longest: float,
) -> str:
    """Sinking time of a run, or its outcome, with the discharge coefficient.

    longest : end of the time axis below [s], for its unit
    """
    phrase = outcome if time is None else f"rim under after {time_text(time, interval, longest)}"
    if coefficient is None:
        return phrase
    return f"{phrase}, discharge coefficient {coefficient:.2f} in mid-filling"


def flow_unit(largest: float) -> tuple[float, str]:
    """Factor and unit for flows through the hole, by the largest [m^3/s]."""
    return (1e3, "L/s") if largest > 1.5e-3 else (1e6, "mL/s")


def _over(time: float | None, other: float | None) -> float | None:
    """Ratio of two times; None if one of them is missing."""
    return time / other if time is not None and other else None


def _text(sinking: Sinking, best: Best | None, longest: float | None) -> str:
    """Sinking time with its interval if there is one, or the outcome."""
    if sinking.sinking_time is None:
        return sinking.words
    time, half = (best.time, best.half) if best else (sinking.sinking_time, None)
    return seconds_with(time, half, longest)
