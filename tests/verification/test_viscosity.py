"""Viscosity and no-slip walls against exact solutions and measured drag; sources in each case."""

import pytest

from sinkbowl.verification import viscosity
from verified import hold


def test_pipe_flow_loses_the_pressure_of_hagen_and_poiseuille():
    """8 mu V / R^2 within 0.5 % at 24 cells a radius, at second order."""
    hold(viscosity.pipe)


def test_started_plate_feels_the_shear_of_stokes_first_problem():
    """mu V / sqrt(pi nu t) (Stokes 1851, from memory), eight cells in the layer; 1 %."""
    hold(viscosity.started_plate)


def test_started_plate_feels_the_same_shear_through_cells_that_grow_from_it():
    """mu V / sqrt(pi nu t) (Stokes 1851, from memory), four cells in the layer at the wall; 3 %."""
    hold(viscosity.started_plate_graded)


def test_plate_in_a_stream_feels_the_shear_and_drag_of_blasius():
    """0.332 rho V^2 / sqrt(Re) at Re = 10,000 and 0.664 / sqrt(Re) + 1.163 / Re (Blasius, Imai).
    From memory. 3 % with ten cells in the layer. Five are to be enough for a quick answer: 5 %."""
    for check in hold(viscosity.plate_in_a_stream):
        _, coarse = check.grids[0]
        assert coarse == pytest.approx(1.0, abs=0.05), f"{check.name}: {coarse:.4f}"


@pytest.mark.slow
def test_creeping_flow_through_a_thin_hole_converges_to_sampson():
    """3 mu Q / a^3 (Sampson 1891, from memory), 1 % at 40 cells a radius, at first order. What the
    three grids tend to is within 1 % as well; the walls stand six radii away."""
    found, _ = hold(viscosity.creeping_hole)
    coarse, fine = (ours for _, ours in found.grids[-2:])
    assert 2.0 * fine - coarse == pytest.approx(1.0, abs=0.01), f"{coarse:.4f}, {fine:.4f}"


@pytest.mark.slow
def test_sphere_in_slow_flow_has_the_drag_of_the_standard_curve():
    """Re = 1: C_D 27.16 (Clift, Grace & Weber, in `fluids`); 3 %."""
    hold(viscosity.sphere_in_slow_flow)


@pytest.mark.slow
def test_sphere_with_a_wake_has_the_drag_of_the_standard_curve():
    """Re = 10: C_D 4.258 (Clift, Grace & Weber, in `fluids`); 3 %."""
    hold(viscosity.sphere_with_a_wake)


@pytest.mark.slow
def test_sphere_with_an_eddy_has_the_drag_of_the_standard_curve():
    """Re = 100: C_D 1.087 (Clift, Grace & Weber, in `fluids`); 3 %."""
    hold(viscosity.sphere_with_an_eddy)
