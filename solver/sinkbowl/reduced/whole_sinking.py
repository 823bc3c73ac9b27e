"""The course of a sinking: what all models have in common that fill a bowl through its hole.

A bowl that never starts is answered at once. Any other is filled by its model until the rim is
under or all is at rest; from the rim it goes on by the heave equations, full when water over the
rim, a weir around its circumference, has filled it. The models
are upright: where no heel holds the bowl any more (stability.py), the outcome says when that is and
when a point of its rim goes under (flooding.py); later times are those of the bowl kept upright.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.sinking import Sinking
from sinkbowl.reduced.legs import Leg, Log
from sinkbowl.reduced.start import corner_answer, outcome_words
from sinkbowl.reduced.tables import Tables, tabulate
from sinkbowl.statics.flooding import flooding
from sinkbowl.statics.hydrostatics import floats
from sinkbowl.statics.stability import stability_curve

Filling = Callable[[Tables, bool], Leg]
"""Brings a bowl from release to the rim or to rest, and where not quick beyond the rim."""


def whole_sinking(case: Case, model: str, fill: Filling, quick: bool) -> Sinking:
    """Sinking of a bowl by a model.

    Parameters
    ----------
    case : the bowl
    model : its name
    fill : its filling
    quick : for the sinking time alone; the bowl is not followed beyond its rim, and whether it
        tips is not asked

    Raises
    ------
    RunError : if the integration comes to no end
    """
    answer = corner_answer(case, model)
    if answer is not None:
        return answer if quick else _tipping_at_rest(answer, case)
    tables, log = tabulate(case), Log()
    log.add(fill(tables, quick))
    words = outcome_words(case, log.events)
    upright = log.sinking(model, tables.bowl.inner_edge, words, floats(case))
    return upright if quick else _tipping(upright, case)


def _tipping_at_rest(upright: Sinking, case: Case) -> Sinking:
    """The answer for a bowl that never fills; it has all the time it needs to tip."""
    curve = stability_curve(case)
    if curve is None or not np.isnan(curve.heel[0]):
        return upright
    dips = flooding(case)
    at_once = dips is not None and dips.level == curve.inner_level[0]
    return upright.tipping(0.0, 0.0 if at_once else None)


def _tipping(upright: Sinking, case: Case) -> Sinking:
    """The sinking with the moment from which no heel holds the bowl, if there is one."""
    curve = stability_curve(case)
    level = None if curve is None else curve.tipping_level
    time = None if level is None else _reached(upright, level)
    if time is None:
        return upright
    dips = flooding(case)
    floods = None if dips is None else _reached(upright, dips.level)
    return upright.tipping(time, None if floods is None else max(time, floods))


def _reached(upright: Sinking, level: float) -> float | None:
    """Time [s] at which an inner level [m] is reached; None if not before the rim or rest."""
    end = min(upright.events.get(name, np.inf) for name in ("rim_under", "half_sunk"))
    reached = np.flatnonzero((upright.inner_level >= level) & (upright.t <= end))
    if reached.size == 0:
        return None
    k = int(reached[0])
    near = slice(max(k - 1, 0), k + 1)
    return float(np.interp(level, upright.inner_level[near], upright.t[near]))
