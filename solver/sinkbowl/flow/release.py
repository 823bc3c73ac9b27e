"""How deep a bowl lies, and how fast it moves, at the moment of release."""

from __future__ import annotations

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.statics.hydrostatics import dry_draft


def release(case: Case, cell: float) -> tuple[float, float]:
    """Draft [m] and downward speed [m/s] at release.

    A bowl without a dry draft is let go with its base one `cell` [m] deep.
    """
    if case.start.kind == "drop":
        return 0.0, float(np.sqrt(2.0 * GRAVITY * case.start.drop_height))
    dry = dry_draft(case)
    draft = dry if dry is not None else cell
    push = case.start.push if case.start.kind == "push" else 0.0
    return draft, push / case.total_mass
