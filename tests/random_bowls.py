"""Outlines of random bowls, for properties that any bowl must have."""

import numpy as np
from hypothesis import strategies as st


@st.composite
def sections(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    """Random outer outline that rises to its rim (and may lean in or out); the inner one has the
    same share of its radius at every height above the base, so that they never cross."""
    n = draw(st.integers(3, 9))
    rise = draw(st.lists(st.floats(0.002, 0.02), min_size=n, max_size=n))
    z = np.concatenate(([0.0], np.cumsum(rise)))
    r = np.array(draw(st.lists(st.floats(0.03, 0.08), min_size=n + 1, max_size=n + 1)))
    share = draw(st.floats(0.4, 0.95))
    hole = draw(st.floats(0.002, 0.01))
    lift = draw(st.floats(0.0005, 0.0015))
    outer = np.vstack(([hole, 0.0], np.column_stack((r, z))))
    corner = [share * np.interp(lift, z, r), lift]
    inner = np.vstack(([hole, lift], corner, np.column_stack((share * r[1:], z[1:]))))
    return outer, inner
