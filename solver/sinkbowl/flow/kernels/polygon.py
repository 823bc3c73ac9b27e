"""Small polygons of revolution: clipping by a half-plane, r-weighted area.

Polygons are rows of (r, z) in counter-clockwise order. The r-weighted area is the volume per radian
of the solid of revolution (Pappus).

The last kernels cut cells and faces with a solid outline, all per radian.
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
            out[m, 0], out[m, 1] = poly[k, 0], poly[k, 1]
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
    out[0, 0], out[0, 1] = r0, z0
    out[1, 0], out[1, 1] = r1, z0
    out[2, 0], out[2, 1] = r1, z1
    out[3, 0], out[3, 1] = r0, z1
    return 4


@part
def moment_below(poly, n, nr, nz, c):
    """Moment of the part nr*r + nz*z <= c of a convex polygon, and its derivative with c.

    The derivative is the length of the chord times its mean radius.
    """
    total = 0.0
    r_out = z_out = r_in = z_in = 0.0
    ra, za = poly[n - 1, 0], poly[n - 1, 1]
    da = nr * ra + nz * za - c
    for k in range(n):
        rb, zb = poly[k, 0], poly[k, 1]
        db = nr * rb + nz * zb - c
        if da <= 0.0 and db <= 0.0:
            total += edge_moment(ra, za, rb, zb)
        elif da <= 0.0 or db <= 0.0:
            s = da / (da - db)
            r, z = ra + s * (rb - ra), za + s * (zb - za)
            if da <= 0.0:
                total += edge_moment(ra, za, r, z)
                r_out, z_out = r, z
            else:
                total += edge_moment(r, z, rb, zb)
                r_in, z_in = r, z
        ra, za, da = rb, zb, db
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
    low = high = nr * poly[0, 0] + nz * poly[0, 1]
    for k in range(1, n):
        c = nr * poly[k, 0] + nz * poly[k, 1]
        low, high = min(low, c), max(high, c)
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


@kernel
def solid_moments(outline, r_f, z_f, first_i, last_i, first_j, last_j, work, out):
    """Solid volume of each cell in a block of cells [m^3 per radian].

    The outline (k, 2) may be non-convex: clipping a simple polygon by the cell leaves edges that
    run on top of each other along the cell's sides and cancel in the area. work (3, 4 k + 16, 2) is
    scratch space.
    r_f (nr+1,), z_f (nz+1,), out (nr, nz).
    """
    k = outline.shape[0]
    strip, a, b = work[0], work[1], work[2]
    for i in range(first_i, last_i):
        n = clip(outline, k, 1.0, 0.0, r_f[i + 1], a)
        n = clip(a, n, -1.0, 0.0, -r_f[i], strip)
        if n < 3:
            continue
        for j in range(first_j, last_j):
            m = clip(strip, n, 0.0, 1.0, z_f[j + 1], a)
            m = clip(a, m, 0.0, -1.0, -z_f[j], b)
            if m >= 3:
                out[i, j] = moment(b, m)


@part
def crossings(outline, axis, position, out):
    """Sorted places where the outline crosses the line x[axis] = position; returns their number."""
    corners = outline.shape[0]
    other, m = 1 - axis, 0
    for a in range(corners):
        b = a + 1 if a + 1 < corners else 0
        xa, xb = outline[a, axis], outline[b, axis]
        if (xa <= position) != (xb <= position):
            s = (position - xa) / (xb - xa)
            place = outline[a, other] + s * (outline[b, other] - outline[a, other])
            k = m
            while k > 0 and out[k - 1] > place:
                out[k] = out[k - 1]
                k -= 1
            out[k] = place
            m += 1
    return m


@kernel
def solid_faces(outline, lines, eps, faces, axis, marks, out):
    """Solid part of each face on the grid lines x[axis] = lines[k]; out (len(lines), n faces).

    Along r (axis 0, faces span z) the part is a length times the radius; along z (axis 1, faces
    span r) it is the integral of r. On an aligned wall the larger solid part of both sides of the
    line counts: a face is open only where both sides are. marks (k,) is scratch space. outline (k,
    2); lines (n,); faces (m+1,): marks between which the m faces of a line lie.
    """
    n = faces.shape[0] - 1
    for k in range(lines.shape[0]):
        for side in range(2):
            position = lines[k] + (eps if side == 1 else -eps)
            m = crossings(outline, axis, position, marks)
            for f in range(n):
                solid = 0.0
                for q in range(0, m - 1, 2):
                    low = max(marks[q], faces[f])
                    high = min(marks[q + 1], faces[f + 1])
                    if high > low:
                        if axis == 0:
                            solid += lines[k] * (high - low)
                        else:
                            solid += 0.5 * (high * high - low * low)
                if axis == 0:
                    out[k, f] = max(out[k, f], solid)
                else:
                    out[f, k] = max(out[f, k], solid)
