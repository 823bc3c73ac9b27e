"""Added mass of bodies pushed from rest against potential theory."""

from sinkbowl.verification import added_mass
from verified import hold


def test_deep_sphere_carries_half_its_own_volume_of_water():
    """(2/3) pi rho a^3, Lamb, Hydrodynamics, art. 92 (from memory); 1 % from 10 cells a radius.
    Half a per cent at 32 cells a radius."""
    hold(added_mass.sphere_verifications)


def test_deep_disc_carries_the_water_that_lamb_gives():
    """(8/3) rho a^3, Lamb, Hydrodynamics, art. 108 (seen); 1 % at 32 cells per radius. The velocity
    is singular at the sharp edge, so the order is 1; each halving must show it."""
    hold(added_mass.disc_verifications)


def test_disc_with_a_hole_of_three_tenths():
    """0.608 of the whole disc at b/a = 0.30, computed independently, not published; 2 %."""
    hold(added_mass.ring_verification)


def test_disc_in_the_surface_carries_half_the_water_of_a_deep_one():
    """(4/3) rho a^3 at the limit of high frequency (exact, from memory); 1 %."""
    hold(added_mass.surface_disc_verification)


def test_floating_hemisphere_carries_half_the_water_of_a_deep_sphere():
    """(pi/3) rho a^3: Hulme 1982, J. Fluid Mech. 121, 443, limit 1/2 (from memory); 1 %."""
    hold(added_mass.hemisphere_verification)
