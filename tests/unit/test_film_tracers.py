"""Specks in a film go where the water goes."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from sinkbowl_post.filming.tracers import drift
from sinkbowl_post.filming.view import QUANTITIES, cell_centres

STRAIN = 3.0  # 1/s
R_F, Z_F = np.linspace(0.0, 0.1, 41), np.linspace(-0.1, 0.1, 61)
OUTLINE = np.array([(0.01, 0.0), (0.05, 0.0), (0.05, 0.06), (0.01, 0.06)])


class StrainedFrames:
    """Frames of the axisymmetric strain u_r = s r / 2, u_z = -s z, seen by a sinking bowl."""

    def __init__(self, t: np.ndarray, speed: float, wet_above: float = -1.0) -> None:
        self.t, self.speed, self.draft = t, np.full(len(t), speed), speed * t
        self._wet_above = wet_above

    def __len__(self) -> int:
        return len(self.t)

    def fields(self, k: int, names: tuple[str, ...]) -> dict[str, np.ndarray]:
        r, z = np.meshgrid((R_F[1:] + R_F[:-1]) / 2, (Z_F[1:] + Z_F[:-1]) / 2, indexing="ij")
        upward = -STRAIN * z - self.speed[k]  # laboratory: the bowl goes down with `speed`
        wet = (z > self._wet_above).astype(float)
        return {"u_r": 0.5 * STRAIN * r, "u_z": upward, "volume_fraction": wet}


def strained(t: np.ndarray, speed: float = 0.0, wet_above: float = -1.0) -> Any:
    grid = {"r_f": R_F, "z_f": Z_F, "outline": OUTLINE}
    return SimpleNamespace(grid=grid, frames=StrainedFrames(t, speed, wet_above))


@pytest.mark.parametrize("speed", [0.0, 0.4])
def test_specks_follow_the_exact_paths_of_a_straining_flow(speed):
    """From first principles: r = r_0 exp(s t / 2), z = z_0 exp(-s t) in the bowl's frame."""
    t = np.linspace(0.0, 0.1, 6)
    told = drift(strained(t, speed), range(6), reach=0.05)
    start, end = told[0], told[-1]
    assert len(start) == len(end)
    inside = (np.abs(start[:, 1]) < 0.095) & (end[:, 0] > 0.003) & (end[:, 0] < 0.095)
    exact = start * np.exp([0.5 * STRAIN * t[-1], -STRAIN * t[-1]])
    assert np.abs(end - exact)[inside].max() < 2e-5


def test_specks_that_come_into_air_are_gone():
    t = np.linspace(0.0, 0.2, 5)
    start = drift(strained(t), range(5), 0.05)[0]
    told = drift(strained(t, wet_above=0.0), range(5), 0.05)
    assert 0 < len(told[0]) < len(start)
    assert told[0][:, 1].min() > -np.diff(Z_F)[0]


def test_every_film_has_the_same_specks():
    a, b = (drift(strained(np.array([0.0])), [0], 0.05)[0] for _ in range(2))
    assert np.array_equal(a, b)


def test_vorticity_of_rigid_shear_is_its_rate():
    """From first principles: u_r = w z has the vorticity w everywhere."""
    result = strained(np.array([0.0]))
    r, z = cell_centres(result)
    fields = {"u_r": (7.0 * z + 0.0 * r[:, None]), "u_z": np.zeros((len(r), len(z)))}
    assert QUANTITIES["vorticity"].of(fields, (r, z)) == pytest.approx(7.0, rel=1e-5)
