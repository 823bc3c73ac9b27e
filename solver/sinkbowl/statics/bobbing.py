"""Free bobbing of the dry bowl: a mass on the spring of its waterplane."""

from __future__ import annotations

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.statics.hydrostatics import dry_draft
from sinkbowl.statics.vessel import Vessel


def heave_period(case: Case) -> float | None:
    """Period of free bobbing at the dry draft, hole plugged, waves left out [s].

    None where the bowl goes under at once.
    """
    draft = dry_draft(case)
    if draft is None:
        return None
    outside = Vessel(case).outside(draft)
    moving = case.total_mass + outside.inertia.bowl
    spring = case.water.density * GRAVITY * outside.area
    return float(2.0 * np.pi * np.sqrt(moving / spring))
