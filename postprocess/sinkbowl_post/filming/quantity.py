"""Quantities that colour the water of a film: speed, pressure, vorticity, or none."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.files.result import Result

Array = NDArray[np.float32]
Fields = Mapping[str, Array]
Centres = tuple[NDArray[np.float64], NDArray[np.float64]]


@dataclass(frozen=True)
class Quantity:
    """Required fields, label with unit (empty if not shown), and function.

    ``of`` takes the fields (nr, nz) and the cell centres r (nr,), z (nz,) [m].
    """

    fields: tuple[str, ...]
    label: str
    of: Callable[[Fields, Centres], Array]


def cell_centres(result: Result) -> Centres:
    """Cell centres r (nr,) and z (nz,) of a result's grid [m]."""
    r_f, z_f = result.grid["r_f"], result.grid["z_f"]
    return (r_f[1:] + r_f[:-1]) / 2, (z_f[1:] + z_f[:-1]) / 2


def _speed(fields: Fields, _: Centres) -> Array:
    return np.hypot(fields["u_r"], fields["u_z"])


def _kilopascal(fields: Fields, _: Centres) -> Array:
    return np.abs(fields["pressure"]) * np.float32(1e-3)


def _vorticity(fields: Fields, centres: Centres) -> Array:
    """Magnitude of du_r/dz - du_z/dr [1/s], the only component in axisymmetric flow."""
    r, z = centres
    turning = np.gradient(fields["u_r"], z, axis=1) - np.gradient(fields["u_z"], r, axis=0)
    return np.abs(turning).astype(np.float32)


def _nothing(fields: Fields, centres: Centres) -> Array:
    return np.zeros((len(centres[0]), len(centres[1])), np.float32)


QUANTITIES = {
    "speed": Quantity(("u_r", "u_z"), "water speed [m/s]", _speed),
    "pressure": Quantity(("pressure",), "pressure [kPa]", _kilopascal),
    "vorticity": Quantity(("u_r", "u_z"), "vorticity [1/s]", _vorticity),
    "none": Quantity((), "", _nothing),
}
