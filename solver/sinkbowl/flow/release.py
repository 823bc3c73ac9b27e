"""The start of a run: draft and speed at release, a small wave, and still water in the cells.

The water is flat in each column of cells and exact in cut cells.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import jv, yv

from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.statics.hydrostatics import dry_draft

from .grid import Array
from .kernels.interface import open_polygon
from .kernels.polygon import clip, moment
from .operators import FlowOperators
from .state import FlowState
from .step import extend_velocity, locate_surface

THINNEST = 0.01
"""Minimum radius of the bowl at the water, over the tub's, for the shape of the wave: a dropped
bowl touches the water at a point, where a ring mode has no height."""


def release(case: Case, cell: float) -> tuple[float, float]:
    """Draft [m] and downward speed [m/s] at release.

    A bowl that is not held and has no dry draft is released with its base one `cell` [m] deep.
    """
    if case.start.kind == "drop":
        return 0.0, float(np.sqrt(2.0 * GRAVITY * case.start.drop_height))
    if case.start.kind == "held":
        return case.start.draft, 0.0
    dry = dry_draft(case)
    draft = dry if dry is not None else cell
    push = case.start.push if case.start.kind == "push" else 0.0
    return draft, push / case.total_mass


def wave_levels(r_f: Array, inner: float, height: float) -> Array:
    """Mean level of each column of cells under the longest standing wave around the bowl [m].

    J0(kr) Y1(ka) - Y0(kr) J1(ka), the mode of the water between two upright walls, with zero slope
    at both and zero volume, with the smallest such k > 0 (Lamb, Hydrodynamics, art. 191 for the tub
    alone; between walls from first principles). Scaled to `height` at the inner wall; flat inside
    it.

    r_f : (nr+1,) radii of the column's faces; the last one is the tub's wall [m]
    inner : a, radius of the bowl at the water [m]
    height : of the wave at the bowl [m]
    """
    outer = float(r_f[-1])
    inner = max(inner, THINNEST * outer)

    def slope(k: float) -> float:
        return float(jv(1, k * outer) * yv(1, k * inner) - yv(1, k * outer) * jv(1, k * inner))

    # between pi (narrow ring) and 3.83 (very thin bowl) over the ring's width
    k = brentq(slope, 3.0 / (outer - inner), 4.0 / (outer - inner))
    at_bowl = jv(0, k * inner) * yv(1, k * inner) - yv(0, k * inner) * jv(1, k * inner)
    r = np.maximum(r_f, inner)
    volume = r * (jv(1, k * r) * yv(1, k * inner) - yv(1, k * r) * jv(1, k * inner)) / k
    volume += 0.5 * at_bowl * (np.minimum(r_f, inner) ** 2)
    return np.asarray(height / at_bowl * 2.0 * np.diff(volume) / np.diff(r_f**2))


def fill_to(
    state: FlowState, ops: FlowOperators, level: float | Array, cells: NDArray[np.bool_]
) -> None:
    """Fill the given open cells with still water up to a height [m], at its rest pressure.

    Call `complete_state` after all parts are filled. The height is common to all columns or an
    array (nr,), one per column.
    """
    mesh = ops.mesh_of(state)
    heights = np.broadcast_to(level, len(mesh.r_c))
    for j in range(len(mesh.z_c)):
        share = (heights - mesh.z_f[j]) / mesh.dz[j]
        column = cells[:, j] & (mesh.volume[:, j] > 0.0)
        rest = ops.density * GRAVITY * np.maximum(heights - mesh.z_c[j], 0.0)
        state.extended[cells[:, j], j] = np.clip(share, 0.0, 1.0)[cells[:, j]]
        state.pressure[column, j] = rest[column]
        deep = column & (share >= 1.0)
        state.water[deep, j] = mesh.volume[deep, j]
        for i in map(int, np.flatnonzero(column & (share > 0.0) & ~deep)):
            rect, poly, wet = (np.empty((16, 2)) for _ in range(3))
            n = open_polygon(mesh.r_f, mesh.z_f, mesh.plane, i, j, rect, poly)
            under = moment(wet, clip(poly, n, 0.0, 1.0, float(heights[i]), wet))
            state.water[i, j] = mesh.volume[i, j] * float(under / moment(poly, n))


def complete_state(state: FlowState, ops: FlowOperators) -> None:
    """Locate the surface and extend the velocity after filling."""
    locate_surface(state, ops)
    extend_velocity(state, ops)
    for old, new in ((state.u_r_old, state.u_r), (state.u_z_old, state.u_z)):
        old[:] = new
    state.known_r_old[:] = state.known_r
    state.known_z_old[:] = state.known_z
