"""Small hole: Archimedes at every instant, Torricelli through the hole.

    m / rho + V_in(z) = V_hull(D),   dV_in/dt = Q(D - z) = C_d a sqrt(2 g (D - z)),

D the draft and z the inner level, for any bowl shape: a quadrature over the water inside
(kernels/filling.py). There is no inertia, and the release does not matter: it begins in balance,
dry or with the water inside a held bowl. From the rim on the heave equations apply.
"""

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.numerics import VolumeTable
from sinkbowl.common.sinking import FloatArray, Sinking
from sinkbowl.reduced.kernels.filling import fill
from sinkbowl.reduced.kernels.heave import OVER_EDGE, STATE
from sinkbowl.reduced.kernels.integration import COARSER, REST, RIM_UNDER, ROW, TIME, TIMES
from sinkbowl.reduced.kernels.rosenbrock import HEAVE
from sinkbowl.reduced.legs import STEP_SHARE, STEPS, Leg, integrate, sinking
from sinkbowl.reduced.start import base_dry_answer, beginning, corner_answer, release_water
from sinkbowl.reduced.tables import Tables, tabulate
from sinkbowl.statics.hydrostatics import floats

MODEL = "quasi-static"

INTERVALS = 300  # minimum number of intervals of the inner water, besides jumps of areas


def solve(case: Case, beyond: bool = True) -> Sinking:
    """Sinking of a bowl in equilibrium up to its rim, and `beyond` by heave; or RunError."""
    # Without inertia no push or drop takes the hole of such a bowl down to the water.
    answer = corner_answer(case, MODEL) or base_dry_answer(case, MODEL)
    if answer is not None:
        return answer
    tables = tabulate(case)
    return sinking(case, MODEL, tables.bowl, _fill(tables, beyond))


def _fill(tables: Tables, beyond: bool) -> Leg:
    """Fill hole and bowl until the rim goes under or the head vanishes."""
    bowl, afloat = tables.bowl, floats(tables.case)
    water = _amounts(tables)
    rows, times = np.zeros((len(water), ROW)), np.full(TIMES, np.nan)
    count = 1
    if len(water) > 1:
        head = beginning(tables.case).head
        count = fill(bowl, afloat, head, water, rows, np.empty(ROW))
    else:  # too heavy to float even dry: it passes its rim at once, hole plugged
        rows[0, 1], rows[0, -2] = bowl.rim, bowl.outer_edge
    stop = RIM_UNDER if count == len(water) else REST
    rows = rows[:count]
    times[stop] = rows[-1, TIME]
    if stop == REST or not beyond:
        return Leg(rows, times, stop)
    state = rows[-1, 1 : 1 + STATE]
    after = integrate(
        HEAVE,
        bowl,
        state,
        afloat,
        start=float(times[stop]),
        phase=OVER_EDGE,
        beyond=True,
        steps=round(STEPS / COARSER),
        step_share=COARSER * STEP_SHARE,
    )
    times = np.where(np.isnan(times), after.times, times)
    return Leg(np.concatenate((rows, after.rows[1:])), times, after.stop)


def _amounts(tables: Tables) -> FloatArray:
    """Amounts of water (n,) of the filling, up to that which takes the rim under [m^3]."""
    vessel = tables.vessel
    dry, first = vessel.mass / vessel.density, release_water(vessel)
    most = vessel.hull_volume - dry
    if most <= first:
        return np.array([first])
    kinks = np.concatenate((_volumes(vessel.inner), _volumes(vessel.outer) - dry))
    between = np.unique(kinks[(kinks > first) & (kinks < most)])
    ends = np.concatenate(([first], between, [most]))
    parts = np.ceil(INTERVALS * np.diff(ends) / most).astype(int)
    pieces = [np.linspace(a, b, n + 1)[:-1] for a, b, n in zip(ends, ends[1:], parts, strict=False)]
    return np.concatenate((*pieces, [most]))


def _volumes(levels: VolumeTable) -> FloatArray:
    """Volumes below the corners of an outline and the ends of the round rings [m^3]."""
    height, section = levels.rings[:, 2], levels.rings[:, 3]
    ends = (levels.heights, height - section, height + section)
    return np.asarray(levels.volume(np.concatenate(ends)))
