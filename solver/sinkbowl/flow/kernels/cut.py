"""Open volumes and face areas of the cells that a solid outline cuts, all per radian."""

from . import kernel, part
from .polygon import clip, moment


@kernel
def solid_moments(outline, r_f, z_f, first_i, last_i, first_j, last_j, work, out):
    """Solid volume of each cell in a block of cells [m^3 per radian].

    The outline (k, 2) may be non-convex: clipping a simple polygon by the cell leaves edges that
    run on top of each other along the cell's sides and cancel in the area. work (3, 4 k + 16, 2) is
    scratch space.
    r_f (nr+1,), z_f (nz+1,), out (nr, nz).
    """
    k = outline.shape[0]
    strip = work[0]
    a = work[1]
    b = work[2]
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
    other = 1 - axis
    m = 0
    for a in range(corners):
        b = a + 1 if a + 1 < corners else 0
        xa = outline[a, axis]
        xb = outline[b, axis]
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
