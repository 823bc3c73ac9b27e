"""Openings and jets against closed forms and published values, sources in each case."""

from collections.abc import Callable
from functools import partial
from itertools import pairwise

import pytest

from sinkbowl.verification.orifices import (
    discharge_of_a_hole,
    draining_tank,
    inertance_in_a_pipe,
    inertance_in_a_plane,
    inward_tube,
    jet_of_a_hole,
    slot,
)
from sinkbowl.verification.verification_case import VerificationCase


def verify(measure: Callable[[], VerificationCase]) -> VerificationCase:
    """Run a verification case, print its figures and assert that it holds."""
    check = measure()
    figure = (
        f"{check.name}: {check.ours:.4f}, known {check.reference:.4f} ({100 * check.error:+.2f} %)"
    )
    print(figure, check.grids)
    assert check.passed, figure
    return check


def test_a_thin_hole_carries_rayleighs_inertance():
    """pi a/2 in all, Rayleigh (from memory); 1 %."""
    verify(inertance_in_a_plane)


def test_a_narrow_pipe_shortens_the_slug_as_fok_says():
    """Fok 1941 (series from memory), hole half as wide as the pipe; 1 %, at first order."""
    check = verify(inertance_in_a_pipe)
    errors = [ours / check.reference - 1.0 for _, ours in check.grids]
    shrinkage = [b / a for a, b in pairwise(errors)]
    assert max(shrinkage) < 0.6, f"errors {errors}"


@pytest.mark.parametrize("ratio", [0.3, 0.5, 0.7])
def test_a_slot_in_a_channel_contracts_as_free_streamlines_do(ratio):
    """Exact for the plane slot (von Mises 1917, form from memory); 1 %."""
    verify(partial(slot, ratio))


@pytest.mark.slow
def test_a_slot_in_a_wide_wall_contracts_to_pi_over_pi_plus_two():
    """0.6110, exact; 0.5 %."""
    verify(partial(slot, 0.02, 0.005))


@pytest.mark.slow
@pytest.mark.parametrize("measure", [jet_of_a_hole, discharge_of_a_hole])
def test_a_thin_hole_in_a_wide_plate_contracts_the_jet(measure):
    """0.5913, free-streamline boundary elements; 1 %, from the section and from the pressure."""
    verify(measure)


@pytest.mark.slow
def test_a_tank_drains_in_torricellis_time():
    """t = (A/(C_d a)) sqrt(2h/g) between two levels (from memory), C_d that of the steady jet."""
    verify(draining_tank)


@pytest.mark.slow
def test_a_tube_into_the_water_halves_the_jet():
    """Borda's tube, (1 - sqrt(1 - m))/m for the area ratio m, exact; 2 %."""
    verify(inward_tube)
