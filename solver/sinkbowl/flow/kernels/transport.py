"""Conservative transport of the water volume, one direction after the other.

A flux is the water in the region of the donor cell that a face sweeps. Between the two sweeps the
dilation of the first direction is added in cells at least half full and subtracted after the second
(Weymouth & Yue 2010, J. Comput. Phys. 229, 2853), here with exactly the same amount, so that the
water volume is conserved to round-off whatever the residual divergence of the velocity.
"""

from . import kernel, part
from .interface import TRACE, wet_share


@part
def swept_water(mesh, water, normal, offset, i, j, r0, r1, z0, z1, swept, work):
    """Water in the part r0..r1, z0..z1 of a donor cell, whose open volume is `swept` with a sign.

    A full cell gives water only, and none gives more than it has.
    """
    fraction = water[i, j] / mesh.volume[i, j]
    share = 1.0 if fraction >= 1.0 - TRACE else 0.0
    if TRACE < fraction < 1.0 - TRACE:
        share = wet_share(mesh, normal, offset, i, j, r0, r1, z0, z1, work)
        share = fraction if share < 0.0 else share
    limit = max(water[i, j], 0.0)
    return min(max(share * swept, -limit), limit)


@kernel
def flux_r(mesh, water, normal, offset, u_r, dt, work, flux):
    """Water through the radial faces in dt [m^3 per radian], outward positive (nr+1, nz).

    water, offset (nr, nz); normal (nr, nz, 2); u_r (nr+1, nz); work (4, 16, 2) is scratch space.
    """
    nr, nz = water.shape
    for i in range(1, nr):
        for j in range(nz):
            swept = mesh.area_r[i, j] * u_r[i, j] * dt
            if swept == 0.0:
                flux[i, j] = 0.0
                continue
            d = i - 1 if swept > 0.0 else i
            reach = min(abs(u_r[i, j]) * dt, mesh.dr[d])
            r0 = mesh.r_f[i] - reach if swept > 0.0 else mesh.r_f[i]
            z0, z1 = mesh.z_f[j], mesh.z_f[j + 1]
            flux[i, j] = swept_water(
                mesh, water, normal, offset, d, j, r0, r0 + reach, z0, z1, swept, work
            )


@kernel
def flux_z(mesh, water, normal, offset, u_z, speed, dt, work, flux):
    """Water through the horizontal faces in dt [m^3 per radian], upward positive (nr, nz+1).

    `speed` is the bowl's upward velocity, with which the faces move. Only water enters through the
    bottom plane; water through the open top leaves the domain. As `flux_r`; u_z (nr, nz+1).
    """
    nr, nz = water.shape
    for i in range(nr):
        r0, r1 = mesh.r_f[i], mesh.r_f[i + 1]
        for j in range(nz + 1):
            relative = u_z[i, j] - speed
            swept = mesh.area_z[i, j] * relative * dt
            d = j - 1 if swept > 0.0 else j
            if swept == 0.0 or d == nz:
                flux[i, j] = 0.0
                continue
            if d < 0:
                flux[i, j] = swept
                continue
            reach = min(abs(relative) * dt, mesh.dz[d])
            z0 = mesh.z_f[j] - reach if swept > 0.0 else mesh.z_f[j]
            flux[i, j] = swept_water(
                mesh, water, normal, offset, i, d, r0, r1, z0, z0 + reach, swept, work
            )


@kernel
def dilation(area, u, speed, dt, di, dj, out):
    """Volume leaving each cell through its two faces across one axis in dt [m^3 per radian].

    area, u (nr+1, nz) with di = 1, dj = 0 along r, (nr, nz+1) with 0 and 1 along z; speed: of the
    faces [m/s]; out (nr, nz).
    """
    nr, nz = out.shape
    for i in range(nr):
        low, high = area[i, :nz], area[i + di, dj : dj + nz]
        u_low, u_high = u[i, :nz], u[i + di, dj : dj + nz]
        for j in range(nz):
            out[i, j] = dt * (high[j] * (u_high[j] - speed) - low[j] * (u_low[j] - speed))


@kernel
def half_full(mesh, water, mask):
    """Mark the cells that are at least half full (frozen over both sweeps).

    water, mask (nr, nz).
    """
    nr, nz = water.shape
    for i in range(nr):
        for j in range(nz):
            mask[i, j] = mesh.volume[i, j] > 0.0 and water[i, j] >= 0.5 * mesh.volume[i, j]


@kernel
def apply_flux(flux, mask, dilation, sign, di, dj, water):
    """Add the fluxes across one axis and sign times the dilation of marked cells to the water.

    flux, di, dj: as u in `dilation`; mask, dilation, water (nr, nz).
    """
    nr, nz = water.shape
    for i in range(nr):
        low, high = flux[i, :nz], flux[i + di, dj : dj + nz]
        for j in range(nz):
            water[i, j] += low[j] - high[j]
            if mask[i, j]:
                water[i, j] += sign * dilation[i, j]


@part
def best_neighbour(mesh, water, i, j, wanted):
    """Open neighbour with most space (wanted > 0) or most water (wanted < 0)."""
    nr, nz = water.shape
    best_i, best_j, best = -1, -1, 0.0
    for d in range(4):
        a = i + (1 if d == 0 else (-1 if d == 1 else 0))
        b = j + (1 if d == 2 else (-1 if d == 3 else 0))
        if a < 0 or b < 0 or a >= nr or b >= nz:
            continue
        if not mesh.reach[i, j, 3 * (a - i + 1) + b - j + 1]:
            continue
        if wanted < 0.0:
            score = water[a, b]
        elif water[a, b] > TRACE * mesh.volume[a, b]:
            score = mesh.volume[a, b] - water[a, b]
        else:
            score = 1e-6 * mesh.volume[a, b]
        if score > best:
            best_i, best_j, best = a, b, score
    return best_i, best_j


@kernel
def give_back(mesh, water, flux_r, flux_z, passes):
    """Move the excess of an overfilled cell to a neighbour, or a deficit from one.

    The moved volume is added to the flux of its face, so that fluxes stay complete. Returns the
    total moved volume [m^3 per radian]. An overfull cell among full ones keeps its surplus: the
    pressure solve drives it out (`divergence_wanted`). water (nr, nz); flux_r (nr+1, nz), flux_z
    (nr, nz+1).
    """
    nr, nz = water.shape
    moved = 0.0
    for _ in range(passes):
        again = False
        for i in range(nr):
            for j in range(nz):
                volume = mesh.volume[i, j]
                if volume <= 0.0:
                    continue
                excess = max(water[i, j] - volume, 0.0) + min(water[i, j], 0.0)
                if abs(excess) <= 1e-14 * volume:
                    continue
                a, b = best_neighbour(mesh, water, i, j, excess)
                if a < 0:
                    continue
                if excess > 0.0:
                    excess = min(excess, max(mesh.volume[a, b] - water[a, b], 0.0))
                else:
                    excess = -min(-excess, max(water[a, b], 0.0))
                if excess != 0.0:
                    water[i, j] -= excess
                    water[a, b] += excess
                    if a != i:
                        flux_r[max(a, i), j] += excess if a > i else -excess
                    else:
                        flux_z[i, max(b, j)] += excess if b > j else -excess
                    moved += abs(excess)
                    again = True
        if not again:
            break
    return moved
