"""Added mass of bodies pushed from rest, against potential theory.

One pressure solve applies a unit impulse to body and water; the resulting speed gives the added
mass, m_a = M (1/V - 1). At the surface p = 0, the limit of infinite frequency.
"""

import numpy as np

from sinkbowl.flow.grid import Grid
from sinkbowl.flow.operators import FlowOperators
from sinkbowl.flow.solid import Solid, place_solid
from sinkbowl.flow.state import FlowState, HeaveBody
from sinkbowl.flow.step import Stride, solve_pressure_and_heave

from . import Check, VerificationCase, finest, on_grids, order
from .tanks import (
    DENSITY,
    deep_grid,
    full_tank,
    on_line,
    plate,
    sphere,
    surface_grid,
    tank_filled_to,
)

RADIUS = 0.05  # radius of every body [m]
HOLE = 0.3 * RADIUS  # radius of the hole in the disc [m]
GRIDS = (8, 16, 32)  # cells per radius
DEEP_DISC = 8.0 / 3.0 * DENSITY * RADIUS**3  # added mass of the deep disc [kg], exact


def deep(grid: Grid, solid: Solid) -> float:
    """Added mass of a body in the middle of deep water [kg]."""
    return _pushed(*full_tank(grid, solid))


def at_surface(grid: Grid, solid: Solid) -> float:
    """Added mass of a body in the still surface z = 0 [kg], water below, air above."""
    ops, state = tank_filled_to(grid, solid, 0.0)
    below = grid.z_c < 0.0
    state.extended[:], state.liquid[:] = 0.0, False
    state.extended[:, below] = 1.0
    state.liquid[:, below] = solid.open_cells[:, below]
    return _pushed(ops, state)


def _pushed(ops: FlowOperators, state: FlowState) -> float:
    body = HeaveBody(mass=1.0, gravity=0.0)
    state.speed = 1.0
    solve_pressure_and_heave(state, body, 0.0, Stride(1.0), ops)
    return body.mass * (1.0 / state.speed - 1.0)


def deep_sphere(cells: int) -> float:
    """Added mass of the sphere [kg] at `cells` per radius."""
    grid = deep_grid(RADIUS, RADIUS / cells, RADIUS)
    return deep(grid, place_solid(grid, sphere(RADIUS)))


def deep_disc(cells: int) -> float:
    """Added mass of the disc [kg] at `cells` per radius."""
    grid = deep_grid(RADIUS, RADIUS / cells, 0.0)
    return deep(grid, plate(grid, RADIUS))


def deep_ring(cells: int) -> float:
    """Added mass of the disc with a hole [kg]; the hole's edge is moved onto a grid line."""
    even = deep_grid(RADIUS, RADIUS / cells, 0.0)
    grid = Grid(np.where(on_line(even.r_f, HOLE), HOLE, even.r_f), even.z_f)
    return deep(grid, plate(grid, RADIUS, HOLE))


def surface_disc(cells: int) -> float:
    """Added mass of the disc in the surface [kg] at `cells` per radius."""
    grid = surface_grid(RADIUS, RADIUS / cells, 0.0)
    return at_surface(grid, plate(grid, RADIUS))


def floating_hemisphere(cells: int) -> float:
    """Added mass of the sphere sunk to its equator [kg] at `cells` per radius."""
    grid = surface_grid(RADIUS, RADIUS / cells, RADIUS)
    return at_surface(grid, place_solid(grid, sphere(RADIUS)))


def sphere_verifications() -> tuple[VerificationCase, VerificationCase]:
    """Deep sphere on the finest grid, and how coarse a grid may be for 1 %."""
    exact = 2.0 / 3.0 * np.pi * DENSITY * RADIUS**3
    source = "(2/3) pi rho a^3, Lamb art. 92 (from memory)"
    name = "added mass, deep sphere"
    coarse = VerificationCase(
        f"{name}, 10 cells a radius", source, exact, deep_sphere(10), 0.01, "kg"
    )
    return finest(name, source, exact, on_grids(deep_sphere, GRIDS), 0.005, "kg"), coarse


def disc_verifications() -> tuple[VerificationCase, VerificationCase]:
    """Deep disc, and its order of convergence."""
    grids = on_grids(deep_disc, GRIDS)
    errors = [abs(ours / DEEP_DISC - 1.0) for _, ours in grids]
    return (
        finest(
            "added mass, deep disc", "(8/3) rho a^3, Lamb art. 108", DEEP_DISC, grids, 0.01, "kg"
        ),
        order(
            "deep disc",
            "first order beside a singular edge; 0.7 asked, common practice, no source",
            0.7,
            float(np.min(np.log2(np.divide(errors[:-1], errors[1:])))),
            note="the lower order of its two refinements",
        ),
    )


def ring_verification() -> VerificationCase:
    """Deep disc with a hole of three tenths of its radius."""
    source = "0.608 of the disc, computed by another method, not published"
    grids = on_grids(deep_ring, GRIDS)
    name = "added mass, disc with hole b/a = 0.30"
    return finest(name, source, 0.608 * DEEP_DISC, grids, 0.02, "kg")


def surface_disc_verification() -> VerificationCase:
    """Disc in the surface, started impulsively."""
    source = "(4/3) rho a^3, half the deep disc (from memory)"
    grids = on_grids(surface_disc, GRIDS)
    return finest(
        "impulsive start, disc in the surface", source, 0.5 * DEEP_DISC, grids, 0.01, "kg"
    )


def hemisphere_verification() -> VerificationCase:
    """Floating hemisphere, started impulsively."""
    exact = np.pi / 3.0 * DENSITY * RADIUS**3
    source = "(pi/3) rho a^3, Hulme 1982's limit of high frequency (from memory)"
    grids = on_grids(floating_hemisphere, GRIDS)
    return finest("impulsive start, floating hemisphere", source, exact, grids, 0.01, "kg")


CHECKS: tuple[Check, ...] = (
    sphere_verifications,
    disc_verifications,
    ring_verification,
    surface_disc_verification,
    hemisphere_verification,
)
