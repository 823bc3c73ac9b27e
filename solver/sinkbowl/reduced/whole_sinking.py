"""A whole sinking, common to all models that fill a bowl through its hole.

A bowl that does not start gets its answer at once. Any other is filled by its model until the rim
is under or all is at rest. From the rim on the heave equations apply, with flow over the rim as
over a weir around its circumference, until the bowl is full. The models are upright: of a bowl
that heels only the events `tips` and `rim_dips` are computed (heeled_filling.py).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.sinking import Sinking
from sinkbowl.reduced.heeled_filling import heeled_filling
from sinkbowl.reduced.legs import Leg, Log
from sinkbowl.reduced.start import corner_answer, outcome_words
from sinkbowl.reduced.tables import Tables, tabulate
from sinkbowl.statics.flooding import flooding
from sinkbowl.statics.hydrostatics import floats
from sinkbowl.statics.stability import stability_curve

Filling = Callable[[Tables, bool], Leg]
"""From release to the rim or to rest; unless quick, on beyond the rim."""


def whole_sinking(case: Case, model: str, fill: Filling, quick: bool) -> Sinking:
    """Sinking of a bowl by a model.

    Parameters
    ----------
    case : the bowl
    model : its name
    fill : its filling
    quick : only the sinking time: nothing beyond the rim, no heel

    Raises
    ------
    RunError : if the integration does not end
    """
    answer = corner_answer(case, model)
    if answer is not None:
        return answer if quick else _tipping_at_rest(answer, case)
    tables, log = tabulate(case), Log()
    log.add(fill(tables, quick))
    words = outcome_words(case, log.events)
    upright = log.sinking(model, tables.bowl.inner_edge, words, floats(case))
    heeled = None if quick else heeled_filling(case)
    return upright if heeled is None else heeled.timed(upright)


def _tipping_at_rest(upright: Sinking, case: Case) -> Sinking:
    """The answer for a bowl that never fills: it has all the time it needs to tip."""
    curve = stability_curve(case)
    if curve is None or not np.isnan(curve.heel[0]):
        return upright
    dips = flooding(case)
    at_once = dips is not None and dips.level == curve.inner_level[0]
    events = {**upright.events, "tips": 0.0}
    return replace(upright, events={**events, "rim_dips": 0.0} if at_once else events)
