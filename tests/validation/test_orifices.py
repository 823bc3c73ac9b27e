"""Openings and jets against closed forms and published values, sources in each rung."""

from collections.abc import Callable
from functools import partial
from itertools import pairwise

import pytest

from sinkbowl.proof.orifices import (
    discharge_of_a_hole,
    draining_tank,
    inward_tube,
    jet_of_a_hole,
    slot,
    slug_in_a_pipe,
    slug_in_a_plane,
)
from sinkbowl.proof.rung import Rung


def check(measure: Callable[[], Rung]) -> Rung:
    """Run a rung, print its figures and assert that it holds."""
    rung = measure()
    figure = f"{rung.name}: {rung.ours:.4f}, known {rung.reference:.4f} ({100 * rung.error:+.2f} %)"
    print(figure, rung.grids)
    assert rung.passed, figure
    return rung


def test_a_thin_hole_carries_rayleighs_slug():
    """pi a/2 in all, Rayleigh (from memory); 1 %."""
    check(slug_in_a_plane)


def test_a_narrow_pipe_shortens_the_slug_as_fok_says():
    """Fok 1941 (series from memory), hole half as wide as the pipe; 1 %, at first order."""
    rung = check(slug_in_a_pipe)
    errors = [ours / rung.reference - 1.0 for _, ours in rung.grids]
    shrinkage = [b / a for a, b in pairwise(errors)]
    assert max(shrinkage) < 0.6, f"errors {errors}"


@pytest.mark.parametrize("ratio", [0.3, 0.5, 0.7])
def test_a_slot_in_a_channel_contracts_as_free_streamlines_do(ratio):
    """Exact for the plane slot (von Mises 1917, form from memory); 1 %."""
    check(partial(slot, ratio))


@pytest.mark.slow
def test_a_slot_in_a_wide_wall_contracts_to_pi_over_pi_plus_two():
    """0.6110, exact; 0.5 %."""
    check(partial(slot, 0.02, 0.005))


@pytest.mark.slow
@pytest.mark.parametrize("measure", [jet_of_a_hole, discharge_of_a_hole])
def test_a_thin_hole_in_a_wide_plate_contracts_the_jet(measure):
    """0.5913, free-streamline boundary elements; 1 %, from the section and from the pressure."""
    check(measure)


@pytest.mark.slow
def test_a_tank_drains_in_torricellis_time():
    """t = (A/(C_d a)) sqrt(2h/g) between two levels (from memory), C_d that of the steady jet."""
    check(draining_tank)


@pytest.mark.slow
def test_a_tube_into_the_water_halves_the_jet():
    """Borda's tube, (1 - sqrt(1 - m))/m for the area ratio m, exact; 2 %."""
    check(inward_tube)
