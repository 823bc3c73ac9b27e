"""Thomas algorithm along lines contiguous in memory.

Each cell of a line needs the previous one, so several independent lines are processed together.
"""

from . import part


@part
def eliminate(x, lower, factor, used):
    """Forward and back substitution along one line."""
    a = x[0]
    for j in range(1, used):
        a = x[j] + lower[j] * a
        x[j] = a
    for j in range(used - 2, -1, -1):
        a = x[j] + factor[j] * a
        x[j] = a


@part
def eliminate_four(x, lower, factor, used, stride):
    """The same along four lines `stride` apart at once."""
    x0 = x[:used]
    x1 = x[stride : stride + used]
    x2 = x[2 * stride : 2 * stride + used]
    x3 = x[3 * stride : 3 * stride + used]
    l0 = lower[:used]
    l1 = lower[stride : stride + used]
    l2 = lower[2 * stride : 2 * stride + used]
    l3 = lower[3 * stride : 3 * stride + used]
    a, b, c, d = x0[0], x1[0], x2[0], x3[0]
    for j in range(1, used):
        a = x0[j] + l0[j] * a
        b = x1[j] + l1[j] * b
        c = x2[j] + l2[j] * c
        d = x3[j] + l3[j] * d
        x0[j] = a
        x1[j] = b
        x2[j] = c
        x3[j] = d
    f0 = factor[:used]
    f1 = factor[stride : stride + used]
    f2 = factor[2 * stride : 2 * stride + used]
    f3 = factor[3 * stride : 3 * stride + used]
    for j in range(used - 2, -1, -1):
        a = x0[j] + f0[j] * a
        b = x1[j] + f1[j] * b
        c = x2[j] + f2[j] * c
        d = x3[j] + f3[j] * d
        x0[j] = a
        x1[j] = b
        x2[j] = c
        x3[j] = d


@part
def surplus_of_one(x, below, used):
    """Surplus of each reduced diagonal over the coupling upwards, in place of that of the cell.

    surplus_j = x_j + below_j share_j-1, share = surplus / (surplus + above): the result of an
    elimination along the line, without a subtraction. below[j + 1] is the coupling above cell j.
    """
    a = x[0]
    for j in range(1, used):
        a = x[j] + below[j] * (a / (a + below[j]))
        x[j] = a


@part
def surplus_of_four(x, below, used, stride):
    """The same along four lines `stride` apart at once."""
    x0 = x[:used]
    x1 = x[stride : stride + used]
    x2 = x[2 * stride : 2 * stride + used]
    x3 = x[3 * stride : 3 * stride + used]
    c0 = below[:used]
    c1 = below[stride : stride + used]
    c2 = below[2 * stride : 2 * stride + used]
    c3 = below[3 * stride : 3 * stride + used]
    a, b, c, d = x0[0], x1[0], x2[0], x3[0]
    for j in range(1, used):
        a = x0[j] + c0[j] * (a / (a + c0[j]))
        b = x1[j] + c1[j] * (b / (b + c1[j]))
        c = x2[j] + c2[j] * (c / (c + c2[j]))
        d = x3[j] + c3[j] * (d / (d + c3[j]))
        x0[j] = a
        x1[j] = b
        x2[j] = c
        x3[j] = d
