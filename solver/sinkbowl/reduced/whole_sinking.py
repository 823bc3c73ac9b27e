"""The course of a sinking: what all models have in common that fill a bowl through its hole.

A bowl that never starts is answered at once. Any other is filled by its model until the rim is
under or all is at rest; from the rim it goes on by the heave equations, full when water over the
rim, a weir around its circumference, has filled it. The models are upright: of a bowl that leans
the events say when the lowest point of its rim is under, and where no heel holds it any more also
when that is (leaning.py); all else is of the bowl kept upright.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.sinking import Sinking
from sinkbowl.reduced.leaning import leaning
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
        leans is not asked

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
    way = None if quick else leaning(case)
    return upright if way is None else way.told(upright)


def _tipping_at_rest(upright: Sinking, case: Case) -> Sinking:
    """The answer for a bowl that never fills; it has all the time it needs to tip."""
    curve = stability_curve(case)
    if curve is None or not np.isnan(curve.heel[0]):
        return upright
    dips = flooding(case)
    at_once = dips is not None and dips.level == curve.inner_level[0]
    events = {**upright.events, "tips": 0.0}
    return replace(upright, events={**events, "rim_dips": 0.0} if at_once else events)
