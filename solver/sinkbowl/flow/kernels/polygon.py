"""Small polygons of revolution: clipping by a half-plane, r-weighted area.

Polygons are rows of (r, z) in counter-clockwise order. The r-weighted area is the volume per radian
of the solid of revolution (Pappus).
"""

from . import kernel


@kernel
def clip(poly, n, nr, nz, c, out):
    """Part of a polygon with nr*r + nz*z <= c; returns its number of vertices."""
    m = 0
    for k in range(n):
        after = k + 1 if k + 1 < n else 0
        da = nr * poly[k, 0] + nz * poly[k, 1] - c
        db = nr * poly[after, 0] + nz * poly[after, 1] - c
        if da <= 0.0:
            out[m, 0] = poly[k, 0]
            out[m, 1] = poly[k, 1]
            m += 1
        if (da < 0.0 and db > 0.0) or (da > 0.0 and db < 0.0):
            s = da / (da - db)
            out[m, 0] = poly[k, 0] + s * (poly[after, 0] - poly[k, 0])
            out[m, 1] = poly[k, 1] + s * (poly[after, 1] - poly[k, 1])
            m += 1
    return m


@kernel
def moment(poly, n):
    """Integral of r over the polygon [m^3 per radian] (Green): sum dz (r1^2 + r1 r2 + r2^2) / 6."""
    total = 0.0
    for k in range(n):
        after = k + 1 if k + 1 < n else 0
        ra = poly[k, 0]
        rb = poly[after, 0]
        total += (poly[after, 1] - poly[k, 1]) * (ra * ra + ra * rb + rb * rb)
    return total / 6.0


@kernel
def rectangle(r0, r1, z0, z1, out):
    """Write the rectangle's four corners; returns 4."""
    out[0, 0] = r0
    out[0, 1] = z0
    out[1, 0] = r1
    out[1, 1] = z0
    out[2, 0] = r1
    out[2, 1] = z1
    out[3, 0] = r0
    out[3, 1] = z1
    return 4


@kernel
def place_plane(poly, n, nr, nz, target, work):
    """Offset c at which the part nr*r + nz*z <= c of the polygon has the moment `target`.

    The moment grows monotonically with c; the root is bracketed by the polygon's extent and found
    by the Illinois variant of the false position (Dowell & Jarratt 1971, BIT 11, 168).
    """
    low = nr * poly[0, 0] + nz * poly[0, 1]
    high = low
    for k in range(1, n):
        c = nr * poly[k, 0] + nz * poly[k, 1]
        low = min(low, c)
        high = max(high, c)
    whole = moment(poly, n)
    if target <= 0.0:
        return low
    if target >= whole:
        return high
    f_low = -target
    f_high = whole - target
    c = low
    side = 0
    for _ in range(100):
        c = (low * f_high - high * f_low) / (f_high - f_low)
        f = moment(work, clip(poly, n, nr, nz, c, work)) - target
        if abs(f) <= 1e-14 * whole or high - low <= 1e-15 * (abs(high) + abs(low)):
            break
        if f > 0.0:
            high = c
            f_high = f
            if side == 1:
                f_low *= 0.5
            side = 1
        else:
            low = c
            f_low = f
            if side == -1:
                f_high *= 0.5
            side = -1
    return c
