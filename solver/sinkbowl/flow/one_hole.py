"""Several holes are not axisymmetric: the flow solver refuses them, and names what comes near."""

from __future__ import annotations

from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError


def check_one_hole(case: Case) -> None:
    """CaseError for several holes, with the one hole that has their area."""
    if case.hole.count == 1:
        return
    several = "hole.count" if case.hole.equal else "hole.diameters"
    one = f"{2e3 * case.bowl.hole_radius:.4g} mm"
    raise CaseError(
        "is not possible in the axisymmetric flow solver",
        file=case.path,
        key=several,
        given=case.hole.count if case.hole.equal else case.hole.widths,
        allowed=f'One hole of the same area is a good approximation: diameter = "{one}" without '
        f'{several.removeprefix("hole.")}, and flow.hole = "closed". The reduced models (check, '
        "size, chart) include all holes.",
    )
