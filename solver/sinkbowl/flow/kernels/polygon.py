"""Small polygons of revolution: clipping by a half-plane, r-weighted area.

Polygons are rows of (r, z) in counter-clockwise order. The r-weighted area is the volume per radian
of the solid of revolution (Pappus).
"""

import numpy as np

from . import kernel, part


@kernel
def clip(poly, n, nr, nz, c, out):
    """Part of a polygon with nr*r + nz*z <= c; returns its number of vertices.

    poly, out (m, 2), of which the first n points count.
    """
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


@part
def edge_moment(ra, za, rb, zb):
    """Contribution of one edge to six times the moment."""
    return (zb - za) * (ra * ra + ra * rb + rb * rb)


@kernel
def moment(poly, n):
    """Integral of r over the polygon [m^3 per radian] (Green): sum dz (r1^2 + r1 r2 + r2^2) / 6.

    poly (m, 2), of which the first n points count.
    """
    total = 0.0
    for k in range(n):
        after = k + 1 if k + 1 < n else 0
        total += edge_moment(poly[k, 0], poly[k, 1], poly[after, 0], poly[after, 1])
    return total / 6.0


@kernel
def rectangle(r0, r1, z0, z1, out):
    """Write the rectangle's four corners; returns 4.

    out (m, 2), m at least 4.
    """
    out[0, 0] = r0
    out[0, 1] = z0
    out[1, 0] = r1
    out[1, 1] = z0
    out[2, 0] = r1
    out[2, 1] = z1
    out[3, 0] = r0
    out[3, 1] = z1
    return 4


@part
def moment_below(poly, n, nr, nz, c):
    """Moment of the part nr*r + nz*z <= c of a convex polygon, and its derivative with c.

    The derivative is the length of the chord times its mean radius.
    """
    total = 0.0
    r_out = z_out = r_in = z_in = 0.0
    ra = poly[n - 1, 0]
    za = poly[n - 1, 1]
    da = nr * ra + nz * za - c
    for k in range(n):
        rb = poly[k, 0]
        zb = poly[k, 1]
        db = nr * rb + nz * zb - c
        if da <= 0.0 and db <= 0.0:
            total += edge_moment(ra, za, rb, zb)
        elif da <= 0.0 or db <= 0.0:
            s = da / (da - db)
            r = ra + s * (rb - ra)
            z = za + s * (zb - za)
            if da <= 0.0:
                total += edge_moment(ra, za, r, z)
                r_out = r
                z_out = z
            else:
                total += edge_moment(r, z, rb, zb)
                r_in = r
                z_in = z
        ra = rb
        za = zb
        da = db
    total += edge_moment(r_out, z_out, r_in, z_in)
    chord = np.sqrt((r_out - r_in) ** 2 + (z_out - z_in) ** 2)
    return total / 6.0, 0.5 * (r_out + r_in) * chord


@kernel
def place_plane(poly, n, nr, nz, target):
    """Offset c at which the part nr*r + nz*z <= c of the convex polygon has the moment `target`.

    The moment grows monotonically with c; the root is bracketed by the polygon's extent and found
    by Newton's method inside the bracket.
    poly (m, 2), of which the first n points count.
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
    c = low + (high - low) * target / whole
    for _ in range(100):
        found, slope = moment_below(poly, n, nr, nz, c)
        excess = found - target
        step = excess / slope
        if abs(excess) <= 1e-14 * whole or abs(step) <= 2e-16 * abs(c):
            break
        if excess > 0.0:
            high = c
        else:
            low = c
        c -= step
        if not low < c < high:
            c = 0.5 * (low + high)
    return c
