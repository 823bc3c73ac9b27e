"""Several holes are not axisymmetric: the flow solver refuses them, and names what comes near."""

from __future__ import annotations

from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError


def check_one_hole(case: Case) -> None:
    """CaseError for several holes, with the one hole that has their area."""
    if case.hole.count == 1:
        return
    one = f"{2e3 * case.bowl.hole_radius:.4g} mm"
    raise CaseError(
        "is more than the axisymmetric flow solver can have",
        file=case.path,
        key="hole.count",
        given=case.hole.count,
        allowed=f'One hole of the same area comes near it: diameter = "{one}" without a count, and '
        'flow.hole = "closed". The reduced models (check, size, chart) take all holes.',
    )
