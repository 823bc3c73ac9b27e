"""Viscosity and no-slip walls against exact solutions and the drag of spheres."""

from __future__ import annotations

from functools import partial
from itertools import pairwise

import numpy as np

from .verification_case import Check, VerificationCase, finest, on_grids, order
from .viscous_flow import hole_resistance, pipe_gradient, plate_layer, plate_shear, sphere_drag


def pipe() -> tuple[VerificationCase, VerificationCase]:
    """Developed flow in a pipe and its order."""
    grids = on_grids(pipe_gradient, (6, 12, 24))
    found = finest(
        "pipe flow, pressure loss over the exact one",
        "8 mu V/R^2, Hagen-Poiseuille; 0.5 % asked, common practice, no source",
        1.0,
        grids,
        0.005,
    )
    source = "second order; 1.8 asked, common practice, no source"
    return found, order("pipe", source, 1.8, halving(*(ours - 1.0 for _, ours in grids[-2:])))


def started_plate() -> VerificationCase:
    """Stokes' first problem: an impulsively started wall."""
    return finest(
        "impulsively started plate, shear over the exact one",
        "mu V/sqrt(pi nu t), Stokes 1851 (from memory); 1 % asked, common practice, no source",
        1.0,
        tuple((f"{n} cells in sqrt(nu t)", plate_shear(n)) for n in (2, 4, 8)),
        0.01,
    )


def started_plate_graded() -> VerificationCase:
    """The same with cells growing from the wall, as at a bowl."""
    return finest(
        "impulsively started plate, cells growing from it, shear",
        "mu V/sqrt(pi nu t), Stokes 1851 (from memory); 3 % asked, as for the flat plate",
        1.0,
        tuple((f"{n} cells in sqrt(nu t)", plate_shear(n, 0.0)) for n in (1, 2, 4)),
        0.03,
    )


def plate_in_a_stream() -> tuple[VerificationCase, VerificationCase]:
    """Boundary layer on a plate with 5 and 10 cells, growing from the wall: shear and drag."""
    runs = {f"{n} cells in sqrt(nu L/V)": plate_layer(n) for n in (1, 2)}
    found = finest(
        "flat plate, Re = 10,000, shear at its length",
        "0.332 rho V^2/sqrt(Re), Blasius 1908 (from memory); 3 % asked: two grids differ by 1 %",
        1.0,
        tuple((label, run.shear) for label, run in runs.items()),
        0.03,
        note="the layer, up to 99 % of the stream, is five times sqrt(nu L/V)",
    )
    source = "0.664/sqrt(Re) + 1.163/Re, Blasius 1908, Imai 1957 (from memory); 3 % as the shear"
    drag = tuple((label, run.drag) for label, run in runs.items())
    return found, finest("flat plate, drag", source, 1.0, drag, 0.03)


def creeping_hole() -> tuple[VerificationCase, VerificationCase]:
    """Creeping flow through a thin hole with a singular edge, and its order."""
    grids = on_grids(hole_resistance, (10, 20, 40))
    found = finest(
        "creeping flow, thin hole, pressure over exact",
        "3 mu Q/a^3, Sampson 1891 (from memory)",
        1.0,
        grids,
        0.01,
        note="first order at the edge; the walls are six radii away, which finer grids show",
    )
    source = "first order beside a singular edge; 0.7 asked, common practice, no source"
    steps = [after - before for (_, before), (_, after) in pairwise(grids)]
    return found, order("creeping hole", source, 0.7, halving(*steps))


def halving(before: float, after: float) -> float:
    """Order observed from two errors, the cells of the second half as large."""
    return float(np.log2(abs(before / after)))


def _sphere(
    reynolds: int, drag: float, cells: tuple[int, ...], reach: float, end: float
) -> VerificationCase:
    return finest(
        f"sphere, drag coefficient, Re = {reynolds}",
        "Clift, Grace & Weber 1978, as the library fluids 1.3.1 has it",
        drag,
        on_grids(lambda n: sphere_drag(reynolds, n, reach, end), cells),
        0.03,
        note="how the grid cuts the sphere scatters it by 1 %; width of the tank under 1 %",
    )


# At Re = 1 the disturbance reaches far, so the tank is wide; at 10 the flow is about to separate;
# at 100 a steady ring eddy lies behind the sphere.
sphere_in_slow_flow = partial(_sphere, 1, 27.16, (4, 6), 40.0, 16.0)
sphere_with_a_wake = partial(_sphere, 10, 4.258, (6, 10), 20.0, 30.0)
sphere_with_an_eddy = partial(_sphere, 100, 1.087, (8, 12, 16), 15.0, 40.0)

CHECKS: tuple[Check, ...] = (
    pipe,
    started_plate,
    started_plate_graded,
    plate_in_a_stream,
    creeping_hole,
    sphere_in_slow_flow,
    sphere_with_a_wake,
    sphere_with_an_eddy,
)
