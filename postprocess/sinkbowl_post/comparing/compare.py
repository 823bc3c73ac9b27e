"""The flow solver's run against every reduced model: sinking times, ratios, discharge coefficients.

The effective discharge coefficient is that of Torricelli's law over the middle half of the filling,
C_d = int Q dt / (a int sqrt(2 g head) dt), Q the flow through the hole and a its area: an average
that waves on the inner surface leave alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.common.shown import seconds_with, table_html, table_text
from sinkbowl.common.sinking import Sinking
from sinkbowl.files.result import Result
from sinkbowl.reduced import MODELS
from sinkbowl.reduced.replay.attribute import Reasons, attribute
from sinkbowl.reduced.replay.path import Record
from sinkbowl_post.comparing.reasons import half_width, record_of

if TYPE_CHECKING:
    from rich.table import Table

HEADINGS = ("", "rim under after", "model / flow", "C_d mid-filling")
MIDDLE = (0.25, 0.75)  # of the water that comes in until the rim is under


@dataclass(frozen=True, repr=False)
class Comparison:
    """One run and the reduced models of the same case.

    Attributes
    ----------
    flow : the flow solver's history
    models : the reduced models' histories, by name
    discharge : effective discharge coefficient, "flow" and each model; None where it means nothing
    uncertainty : numerical, of the flow solver's sinking time [s], 95 %; None: one grid was run
    warning : what is wrong with the grids behind it, in words; empty where nothing is
    half_width : of the interval of the flow's time, 95 % [s]; None where it is not known
    case : the bowl, and record: the run, for its replay; None where that is not wanted
    """

    title: str
    flow: Sinking
    models: Mapping[str, Sinking]
    discharge: Mapping[str, float | None]
    uncertainty: float | None = None
    warning: str = ""
    half_width: float | None = None
    case: Case | None = None
    record: Record | None = None

    @cached_property
    def reasons(self) -> dict[str, Reasons | None]:
        """What each model's time owes to what; None where model or flow has no time."""
        if self.case is None or self.record is None:
            return dict.fromkeys(self.models)
        times = {name: model.sinking_time for name, model in self.models.items()}
        return attribute(self.case, self.record, times)

    def __repr__(self) -> str:
        """Sinking time, ratio to the flow solver's and discharge coefficient of every model."""
        return table_text(rows(self), self._title(), HEADINGS)

    def _repr_html_(self) -> str:
        return table_html(rows(self), self._title(), HEADINGS)

    def _title(self) -> str:
        return f"{self.title}. Grids: {self.warning}." if self.warning else self.title

    def ratio(self, model: str) -> float | None:
        """Sinking time of a model over the flow solver's; None where one of them never sinks."""
        mine, flow = self.models[model].sinking_time, self.flow.sinking_time
        return mine / flow if mine is not None and flow else None

    def as_dict(self) -> dict[str, Any]:
        """The figures of the comparison, ready for JSON."""
        return {
            "title": self.title,
            "flow": self._figures("flow", self.flow)
            | {"sinking_time_uncertainty_s": self.uncertainty, "levels_warning": self.warning},
            "reduced": {
                name: self._figures(name, model) | {"ratio_to_flow": self.ratio(name)}
                for name, model in self.models.items()
            },
            "reasons": {
                name: None if one is None else one.as_dict() for name, one in self.reasons.items()
            },
        }

    def _figures(self, name: str, sinking: Sinking) -> dict[str, Any]:
        return {
            "sinking_time_s": sinking.sinking_time,
            "discharge_coefficient": self.discharge[name],
            "outcome": sinking.outcome,
        }


def compare(result: Result) -> Comparison:
    """Solve the reduced models for a result's case and set them beside its history.

    Raises
    ------
    ResultError : the case cannot be read again from the result file
    """
    case = result.case
    flow = result.sinking()
    models = {name: solve(case) for name, solve in MODELS.items()}
    area = None if case.base_gone else case.hole.area
    return Comparison(
        title=result.title,
        flow=flow,
        models=models,
        discharge={
            name: discharge_coefficient(sinking, area) if area else None
            for name, sinking in {"flow": flow, **models}.items()
        },
        uncertainty=result.uncertainty,
        warning=result.levels_warning,
        half_width=half_width(result),
        case=case,
        record=record_of(result),
    )


def discharge_coefficient(sinking: Sinking, hole_area: float) -> float | None:
    """Effective discharge coefficient over the middle half of the filling [1].

    Parameters
    ----------
    sinking : history of a run or a reduced model
    hole_area : [m^2]

    Returns
    -------
    float or None : None where no head drives water through the hole there
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


def rows(comparison: Comparison) -> list[tuple[str, ...]]:
    """Name, sinking time, ratio to the flow solver's and coefficient of every model, in words."""
    found: list[tuple[str, ...]] = []
    for name, sinking in {"flow": comparison.flow, **comparison.models}.items():
        ratio = comparison.ratio(name) if name in comparison.models else None
        coefficient = comparison.discharge[name]
        found.append(
            (
                "flow solver" if name == "flow" else name,
                _told(sinking, comparison.uncertainty if name == "flow" else None),
                "" if ratio is None else f"{ratio:.3f}",
                "" if coefficient is None else f"{coefficient:.3f}",
            )
        )
    return found


def table(comparison: Comparison) -> Table:
    """The comparison as a table for the terminal."""
    from rich.table import Table

    told = Table(title=comparison.title, title_justify="left", title_style="bold", box=None)
    for heading in HEADINGS:
        told.add_column(heading, justify="right" if heading else "left")
    for row in rows(comparison):
        told.add_row(*row)
    if comparison.warning:
        told.caption = f"Grids: {comparison.warning}."
    return told


def _told(sinking: Sinking, uncertainty: float | None) -> str:
    """Sinking time, with its numerical uncertainty where that is known, or the outcome."""
    if sinking.sinking_time is None:
        return sinking.outcome
    return seconds_with(sinking.sinking_time, uncertainty)
