"""Closed-off air: its cells, its volume, and its part in the pressure equation.

A *pocket* is a body of air cells, connected by faces, without a path of air to the top of the grid.
Label 0 is open air, label k = 1, 2 ... that of a pocket, NONE the rest. A pocket also includes the
part-filled liquid cells around it; its volume is the space without water in all its cells, which
changes smoothly while the surface passes a cell's middle.

The pressure q of a pocket is one more unknown of the pressure equation (`pressure.py`), coupled to
each liquid cell beside it like p = 0 elsewhere:

    sum over its faces of (dt/rho) A (q - p)/(theta d) + (q - q0)/(dt K) = -(D u* + h V*),

where D u + h V is the rate at which its volume grows, K = -dq/dV = gamma (p_a + q0)/V its stiffness
and q0 its pressure at the present volume: the gas law is implicit, for small, stiff pockets.
Together with the cells' equations the system is symmetric positive definite; q is eliminated, each
pocket as a rank-one term like the bowl (`pocket_response`, `add_coupling`).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from . import kernel, part
from .pressure import surface_distance

Array = NDArray[np.float64]

NONE = -1
UNKNOWN = -2


class PocketTerms(NamedTuple):
    """The pockets' part of the pressure equation, with used[1] pockets.

    cell, owner, strength (used[0] of them): liquid cell, flat, and pocket on the two sides of a
    face and (dt/rho) A/(theta d) there; own (m,): diagonal, area (m,): heave area [m^2], source
    (m,): right side, of a pocket; settled, answer (m,): scratch; all per radian. number (m+1,):
    index of each label among these, from 1; 0 for air at atmospheric pressure.
    """

    cell: NDArray[np.int32]
    owner: NDArray[np.int32]
    strength: Array
    used: NDArray[np.int64]
    own: Array
    area: Array
    source: Array
    settled: Array
    answer: Array
    number: NDArray[np.int64]


@part
def open_columns(mesh, liquid, label):
    """Label 0 for air straight below the open top, UNKNOWN for other air, NONE for the rest."""
    nr, nz = liquid.shape
    for i in range(nr):
        reached = mesh.area_z[i, nz] > 0.0
        for j in range(nz - 1, -1, -1):
            air = mesh.volume[i, j] > 0.0 and not liquid[i, j]
            reached = reached and air
            label[i, j] = 0 if reached else (UNKNOWN if air else NONE)
            reached = reached and mesh.area_z[i, j] > 0.0


@part
def neighbour(mesh, i, j, side):
    """Cell on a side of (i, j), along r for 0 and 1, along z for 2 and 3, and the open area between
    the two [m^2 per radian]; 0 at the edge of the grid."""
    ahead = side % 2
    if side < 2:
        k = i - 1 + 2 * ahead
        return k, j, mesh.area_r[i + ahead, j] if 0 <= k < mesh.dr.size else 0.0
    m = j - 1 + 2 * ahead
    return i, m, mesh.area_z[i, j + ahead] if 0 <= m < mesh.dz.size else 0.0


@part
def flood_fill(mesh, label, i, j, mark, queue):
    """Label an UNKNOWN cell and all cells connected with it; returns their number."""
    nz = label.shape[1]
    label[i, j] = mark
    queue[0] = i * nz + j
    first, last = 0, 1
    while first < last:
        i, j = queue[first] // nz, queue[first] % nz
        first += 1
        for side in range(4):
            k, m, area = neighbour(mesh, i, j, side)
            if area > 0.0 and label[k, m] == UNKNOWN:
                label[k, m] = mark
                queue[last] = k * nz + m
                last += 1
    return last


@part
def beside_open(mesh, label, i, j):
    """Whether a cell has open air on one of its open faces."""
    for side in range(4):
        k, m, area = neighbour(mesh, i, j, side)
        if area > 0.0 and label[k, m] == 0:
            return True
    return False


@kernel
def label_air(mesh, liquid, label, size, queue):
    """Label all air; returns the number of pockets, and their cells in `size`.

    liquid, label (nr, nz); size (m,): pockets after the first m count as open air; queue (nr nz,)
    is scratch space.
    """
    nr, nz = liquid.shape
    open_columns(mesh, liquid, label)
    for i in range(nr):
        for j in range(nz):
            if label[i, j] == UNKNOWN and beside_open(mesh, label, i, j):
                flood_fill(mesh, label, i, j, 0, queue)
    count = 0
    for i in range(nr):
        for j in range(nz):
            if label[i, j] != UNKNOWN:
                continue
            if count < size.shape[0]:
                count += 1
                size[count - 1] = flood_fill(mesh, label, i, j, count, queue)
            else:
                flood_fill(mesh, label, i, j, 0, queue)
    return count


@part
def pocket_beside(mesh, liquid, label, i, j):
    """Label of a pocket in the block around a cell, reached through open faces; NONE for none."""
    found = NONE
    for di in range(-1, 2):
        for dj in range(-1, 2):
            if mesh.reach[i, j, 3 * (di + 1) + dj + 1] and not liquid[i + di, j + dj]:
                other = label[i + di, j + dj]
                if other > 0 and (found == NONE or di == 0 or dj == 0):
                    found = other
    return found


@kernel
def measure(mesh, water, water_before, liquid, label, before, held, volume, fresh, shared):
    """Assign liquid cells to pockets, and find the volume and the earlier air of each.

    held (n_old,): air of the pockets of the previous step, 0 at atmospheric pressure; volume, fresh
    (n,): volume of each pocket, and air at atmospheric pressure from its other cells: their space,
    or that of the previous step if they were liquid; shared (n_old, n+1): space of an old pocket's
    cells in each new one, no pocket or open air first; all [m^3 per radian]. water, water_before,
    liquid, label, before (nr, nz).
    """
    nr, nz = water.shape
    for k in range(volume.shape[0]):
        volume[k] = fresh[k] = 0.0
    for m in range(shared.shape[0]):
        for k in range(shared.shape[1]):
            shared[m, k] = 0.0
    for i in range(nr):
        for j in range(nz):
            room = mesh.volume[i, j] - water[i, j]
            if room <= 0.0:
                continue
            if liquid[i, j]:
                label[i, j] = pocket_beside(mesh, liquid, label, i, j)
            now, was = max(label[i, j], 0), before[i, j]
            if now > 0:
                volume[now - 1] += room
            if was > 0 and held[was - 1] > 0.0:
                shared[was - 1, now] += room
            elif now > 0 and was == NONE:
                fresh[now - 1] += max(mesh.volume[i, j] - water_before[i, j], 0.0)
            elif now > 0:
                fresh[now - 1] += room


@kernel
def couple(mesh, extended, liquid, label, count, u_r, u_z, speed, scale, terms):
    """Enter all faces between pockets and water; scale = dt / rho.

    Diagonal and right side are those of a pocket without stiffness. count: number of pockets with
    their own pressure. extended, liquid, label (nr, nz); u_r (nr+1, nz), u_z (nr, nz+1).
    """
    nr, nz = extended.shape
    terms.used[0], terms.used[1] = 0, count
    for k in range(count):
        terms.own[k] = terms.area[k] = terms.source[k] = 0.0
    if count == 0:
        return
    for i in range(nr):
        for j in range(nz):
            if liquid[i, j] or label[i, j] <= 0 or terms.number[label[i, j]] == 0:
                continue
            owner = terms.number[label[i, j]] - 1
            terms.area[owner] += mesh.heave_area[i, j]
            terms.source[owner] -= mesh.heave_area[i, j] * speed
            for side in range(4):
                k, m, area = neighbour(mesh, i, j, side)
                if area == 0.0 or not liquid[k, m]:
                    continue
                if side < 2:
                    size, size_k, out = mesh.dr[i], mesh.dr[k], u_r[i + side, j]
                else:
                    size, size_k, out = mesh.dz[j], mesh.dz[m], u_z[i, j + side - 2]
                flow = area * out if side % 2 == 1 else -area * out
                strength = (
                    scale * area / surface_distance(extended[k, m], size_k, extended[i, j], size)
                )
                n = terms.used[0]
                terms.cell[n], terms.owner[n], terms.strength[n] = k * nz + m, owner, strength
                terms.used[0] = n + 1
                terms.own[owner] += strength
                terms.source[owner] -= flow


@part
def apply_inverse(terms, sigma):
    """answer = Q^-1 answer, Q = own + sigma area area^T (Sherman, Morrison); returns area . answer.

    own is a diagonal."""
    m = terms.used[1]
    pushed = yielding = 0.0
    for k in range(m):
        terms.answer[k] /= terms.own[k]
        pushed += terms.area[k] * terms.answer[k]
        yielding += terms.area[k] * terms.area[k] / terms.own[k]
    share = sigma * pushed / (1.0 + sigma * yielding)
    total = 0.0
    for k in range(m):
        terms.answer[k] -= share * terms.area[k] / terms.own[k]
        total += terms.area[k] * terms.answer[k]
    return total


@part
def pocket_response(terms, sigma, x, first, lift):
    """Eliminated pockets: change of their pressures by x, in `answer`; returns area . answer.

    lift = h . x; x's cells begin at `first`.
    """
    m = terms.used[1]
    for k in range(m):
        terms.answer[k] = sigma * terms.area[k] * lift
    for n in range(terms.used[0]):
        terms.answer[terms.owner[n]] -= terms.strength[n] * x[first + terms.cell[n]]
    return apply_inverse(terms, sigma)


@part
def add_coupling(terms, x, first, out):
    """Add the effect of the pockets' `answer` on their cells to out; returns its product with x."""
    total = 0.0
    for n in range(terms.used[0]):
        change = terms.strength[n] * terms.answer[terms.owner[n]]
        out[terms.cell[n]] += change
        total += x[first + terms.cell[n]] * change
    return total


@kernel
def eliminate(terms, sigma, heave, source):
    """Eliminate the pockets from the right side of the cells; `settled` keeps their share.

    heave, source (n,) flat.
    """
    m = terms.used[1]
    if m == 0:
        return
    for k in range(m):
        terms.answer[k] = terms.source[k]
    pushed = apply_inverse(terms, sigma)
    for k in range(m):
        terms.settled[k] = terms.answer[k]
    for n in range(terms.used[0]):
        source[terms.cell[n]] += terms.strength[n] * terms.answer[terms.owner[n]]
    for c in range(source.shape[0]):
        source[c] -= sigma * pushed * heave[c]


@kernel
def pocket_pressures(terms, sigma, lift, liquid, label, pressure):
    """Pressures of the pockets from those of the cells, stored in their cells.

    lift = h . p over the liquid cells; returns the sum of heave area times pressure over the
    pockets. liquid, label, pressure (n,) flat.
    """
    m = terms.used[1]
    if m == 0:
        return 0.0
    pocket_response(terms, sigma, pressure, 0, lift)
    total = 0.0
    for k in range(m):
        terms.settled[k] -= terms.answer[k]
        total += terms.area[k] * terms.settled[k]
    for c in range(label.shape[0]):
        if label[c] > 0 and not liquid[c] and terms.number[label[c]] > 0:
            pressure[c] = terms.settled[terms.number[label[c]] - 1]
    return total
