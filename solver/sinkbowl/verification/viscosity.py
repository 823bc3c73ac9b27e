"""Viscosity and no-slip walls against exact solutions and the drag of spheres."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from .verification_case import Check, VerificationCase
from .viscous_flow import hole_resistance, pipe_gradient, plate_layer, plate_shear, sphere_drag

CLIFT = "Clift, Grace & Weber 1978, as the library fluids 1.3.1 has it"


def _order(name: str, least: float, source: str, errors: list[float]) -> VerificationCase:
    found = float(np.log2(abs(errors[-2] / errors[-1])))
    return VerificationCase(
        f"order of accuracy, {name}", source, least, found, 0.0, kind="at least"
    )


def pipe() -> tuple[VerificationCase, VerificationCase]:
    """Developed flow in a pipe and its order."""
    grids = tuple((f"{n} cells a radius", pipe_gradient(n)) for n in (6, 12, 24))
    found = VerificationCase(
        "pipe flow, pressure loss over the exact one",
        "8 mu V/R^2, Hagen-Poiseuille; 0.5 % asked, common practice, no source",
        1.0,
        grids[-1][1],
        0.005,
        grids=grids,
    )
    source = "second order; 1.8 asked, common practice, no source"
    return found, _order("pipe", 1.8, source, [ours - 1.0 for _, ours in grids])


def started_plate() -> VerificationCase:
    """Stokes' first problem: a wall that is set in motion."""
    grids = tuple((f"{n} cells in sqrt(nu t)", plate_shear(n)) for n in (2, 4, 8))
    return VerificationCase(
        "impulsively started plate, shear over the exact one",
        "mu V/sqrt(pi nu t), Stokes 1851 (from memory); 1 % asked, common practice, no source",
        1.0,
        grids[-1][1],
        0.01,
        grids=grids,
    )


def started_plate_graded() -> VerificationCase:
    """The same with cells that grow from the wall on, as a bowl's do."""
    grids = tuple((f"{n} cells in sqrt(nu t)", plate_shear(n, 0.0)) for n in (1, 2, 4))
    return VerificationCase(
        "impulsively started plate, cells growing from it, shear",
        "mu V/sqrt(pi nu t), Stokes 1851 (from memory); 3 % asked, as for the flat plate",
        1.0,
        grids[-1][1],
        0.03,
        grids=grids,
    )


def plate_in_a_stream() -> tuple[VerificationCase, VerificationCase]:
    """Layer on a plate, 5 and 10 cells in it, growing from the wall: shear and drag."""
    runs = {f"{n} cells in sqrt(nu L/V)": plate_layer(n) for n in (1, 2)}
    shear = tuple((label, run.shear) for label, run in runs.items())
    drag = tuple((label, run.drag) for label, run in runs.items())
    found = VerificationCase(
        "flat plate, Re = 10,000, shear at its length",
        "0.332 rho V^2/sqrt(Re), Blasius 1908 (from memory); 3 % asked: two grids differ by 1 %",
        1.0,
        shear[-1][1],
        0.03,
        grids=shear,
        note="the layer, up to 99 % of the stream, is five times sqrt(nu L/V)",
    )
    source = "0.664/sqrt(Re) + 1.163/Re, Blasius 1908, Imai 1957 (from memory); 3 % as the shear"
    drawn = VerificationCase("flat plate, drag", source, 1.0, drag[-1][1], 0.03, grids=drag)
    return found, drawn


def creeping_hole() -> tuple[VerificationCase, VerificationCase]:
    """Creeping flow through a thin hole, whose edge is singular, and its order."""
    grids = tuple((f"{n} cells a radius", hole_resistance(n)) for n in (10, 20, 40))
    found = VerificationCase(
        "creeping flow, thin hole, pressure over exact",
        "3 mu Q/a^3, Sampson 1891 (from memory)",
        1.0,
        grids[-1][1],
        0.01,
        grids=grids,
        note="first order at the edge; the walls are six radii away, which finer grids show",
    )
    source = "first order beside a singular edge; 0.7 asked, common practice, no source"
    steps = [after - before for (_, before), (_, after) in pairwise(grids)]
    return found, _order("creeping hole", 0.7, source, steps)


def _sphere(
    reynolds: int, drag: float, cells: tuple[int, ...], reach: float, end: float
) -> VerificationCase:
    grids = tuple((f"{n} cells a radius", sphere_drag(reynolds, n, reach, end)) for n in cells)
    return VerificationCase(
        f"sphere, drag coefficient, Re = {reynolds}",
        CLIFT,
        drag,
        grids[-1][1],
        0.03,
        grids=grids,
        note="how the grid cuts the sphere scatters it by 1 %; width of the tank under 1 %",
    )


def sphere_in_slow_flow() -> VerificationCase:
    """Re = 1: the disturbance reaches far, so the tank is wide."""
    return _sphere(1, 27.16, (4, 6), 40.0, 16.0)


def sphere_with_a_wake() -> VerificationCase:
    """Re = 10: just before the flow separates."""
    return _sphere(10, 4.258, (6, 10), 20.0, 30.0)


def sphere_with_an_eddy() -> VerificationCase:
    """Re = 100: a steady ring eddy behind the sphere."""
    return _sphere(100, 1.087, (8, 12, 16), 15.0, 40.0)


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
