"""A floating hemisphere moved up and down, against A. Hulme 1982, J. Fluid Mech. 121, 443.

Added mass and damping in units of (2/3) pi rho a^3 (and w), Ka = w^2 a/g: .4284, .2484 at 1.0 and
.8627, .1816 at 0.1 (from memory, computed again by another method); 1 % and 3 %.
"""

import pytest

from sinkbowl.verification import forced_heave
from verified import hold


def test_hemisphere_heaving_at_its_own_pace_meets_hulme():
    """Ka = 1.0; waves about six radii long."""
    hold(forced_heave.middle_wave)


@pytest.mark.slow
def test_hemisphere_heaving_slowly_meets_hulme():
    """Ka = 0.1; waves about sixty radii long."""
    hold(forced_heave.long_wave)
