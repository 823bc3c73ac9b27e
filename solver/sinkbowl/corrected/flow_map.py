"""The map: what the flow solver said of some hundred bowls, as a table shipped with the package.

A row a bowl: its dimensions, its dimensionless numbers (similarity.py), the means of its releases
and their scatter, and the heave model's times of the same bowl with the same jet. Rows of theory
stand where a hole is so small that inertia is nothing and the heave model is right.
"""

from __future__ import annotations

import csv
import hashlib
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.confidence import LEVEL, QUANTILE
from sinkbowl.common.errors import ResultError
from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected.map_bowl import MapBowl
from sinkbowl.corrected.similarity import NAMES
from sinkbowl.corrected.surface import Surface

TABLE, SURFACES = "map.csv", "surfaces.toml"

LEAST_SCATTER = 1e-4
"""Scatter below which the times' own digits count."""

REPEATED = 3
"""Releases of a bowl whose scatter counts."""

OF_THREE, NOISE_OF_THREE = 0.2886, 0.6413
"""By how much ln s of three releases is too low on average, -(psi(k/2) - ln(k/2)) / 2, and its
standard deviation, sqrt(psi'(k/2)) / 2, with k = 2 (chi squared; from first principles)."""

THEORY_NOISE = 0.002
"""How well theory is trusted where a hole is a thirtieth of the bowl."""

MEASURED, KEPT_OUT, THEORY = "fitted", "kept out", "theory"
"""What a row is for."""


@dataclass(frozen=True)
class MapRow:
    """One bowl of the map.

    Attributes
    ----------
    bowl : its dimensions
    use : "fitted", "kept out" of the fit to judge it, or "theory"
    members : releases
    time, half : means of rim under and of half of the way to it [s]
    scatter : standard deviation of the rim's times over their mean, nan for one release
    heave_time, heave_half : of the heave model, same wall and jet [s]
    numbers : (9,) dimensionless
    """

    bowl: MapBowl
    use: str
    members: int
    time: float
    half: float
    scatter: float
    heave_time: float
    heave_half: float
    numbers: FloatArray

    @property
    def log_factor(self) -> float:
        """ln of the flow's time over the heave model's."""
        return float(np.log(self.time / self.heave_time))

    @property
    def bend(self) -> float:
        """b of t'/T' = s (1 + b (1 - s)), s = t/T: what carries heave's course to the flow's."""
        share, wanted = self.heave_half / self.heave_time, self.half / self.time
        return (wanted / share - 1.0) / (1.0 - share)


@dataclass(frozen=True)
class FlowMap:
    """The map and the surfaces through it.

    Attributes
    ----------
    rows : all of them
    time, bend, scatter : surfaces of ln(time over heave), of the bend, and of ln(scatter)
    white : standard deviation of a bowl's ln(time over heave) about the surface, which no smooth
        surface explains
    widening : of the surface's deviation, so that of the bowls left out one by one 95 % lie within
        1.96 of it
    low, high : (9,) ends of the numbers of the rows that were fitted
    """

    rows: tuple[MapRow, ...]
    time: Surface
    bend: Surface
    scatter: Surface
    white: float
    widening: float
    low: FloatArray
    high: FloatArray


@cache
def flow_map() -> FlowMap:
    """The shipped map.

    Raises
    ------
    ResultError : table and surfaces do not belong together
    """
    shipped = files(__package__)
    table = shipped.joinpath(TABLE).read_bytes()
    constants = tomllib.loads(shipped.joinpath(SURFACES).read_text(encoding="utf-8"))
    if hashlib.sha256(table).hexdigest() != constants["table_sha256"]:
        raise ResultError(f"{TABLE} and {SURFACES} do not belong together: install sinkbowl again.")
    return assembled(parsed(table.decode("utf-8")), constants)


def assembled(rows: tuple[MapRow, ...], constants: Mapping[str, Mapping[str, object]]) -> FlowMap:
    """Rows with the surfaces that their constants describe."""
    known = [row for row in rows if row.use in (MEASURED, THEORY)]
    points = np.array([row.numbers for row in known])
    scatter = surface_of(constants["scatter"], *scatter_points(known))
    noise = time_noise(known, scatter)
    time = constants["time"]
    surface = surface_of(time, points, np.array([row.log_factor for row in known]), noise)
    return FlowMap(
        rows=rows,
        time=surface,
        bend=surface_of(
            constants["bend"], points, np.array([row.bend for row in known]), 0.0 * noise
        ),
        scatter=scatter,
        white=float(time["white"]),  # type: ignore[arg-type]
        widening=_widening(surface, np.array([row.use == MEASURED for row in known])),
        low=points.min(axis=0),
        high=points.max(axis=0),
    )


def _widening(surface: Surface, measured: NDArray[np.bool_]) -> float:
    """By how much the surface is too sure of itself, judged by the bowls left out one by one.

    A Gaussian process takes the surface for equally smooth everywhere; where a bob just reaches the
    rim or just does not, it is not.
    """
    value, deviation = surface.left_out()
    off = np.abs(value - surface.values)[measured] / deviation[measured]
    return max(1.0, float(np.quantile(off, LEVEL)) / QUANTILE)


def scatter_points(rows: Sequence[MapRow]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Numbers (n, 9), ln(scatter) and its noise (n,) of the rows whose scatter counts."""
    repeated = [row for row in rows if row.members == REPEATED]
    return (
        np.array([row.numbers for row in repeated]),
        np.array([log_scatter(row) for row in repeated]),
        np.full(len(repeated), NOISE_OF_THREE),
    )


def surface_of(
    constants: Mapping[str, object], points: FloatArray, values: FloatArray, noise: FloatArray
) -> Surface:
    """A surface through values (n,) at points (n, k), by its constants."""
    white, amplitude, mean = (float(constants[k]) for k in ("white", "amplitude", "mean"))  # type: ignore[arg-type]
    lengths = np.array(constants["lengths"], dtype=float)
    return Surface(points, values, np.hypot(noise, white), amplitude, lengths, mean)


def log_scatter(row: MapRow) -> float:
    """ln of the scatter, the bias of three releases taken off."""
    return float(np.log(max(row.scatter, LEAST_SCATTER))) + OF_THREE


def time_noise(rows: Sequence[MapRow], scatter: Surface) -> FloatArray:
    """Standard deviation (n,) of each row's ln time by the scatter of its releases."""
    one = np.exp(scatter.values_at(np.array([row.numbers for row in rows])))
    of_mean = one / np.sqrt([max(row.members, 1) for row in rows])  # theory has none
    return np.where([row.use == THEORY for row in rows], THEORY_NOISE, of_mean)


def parsed(text: str) -> tuple[MapRow, ...]:
    """Rows of a table, its remarks left out."""
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return tuple(_row(line) for line in csv.DictReader(lines))


BOWL = (
    "radius [mm]",
    "height [mm]",
    "wall [mm]",
    "base radius [mm]",
    "base [mm]",
    "hole [mm]",
    "mass [g]",
)
TIMES = ("time [s]", "half [s]", "scatter", "heave time [s]", "heave half [s]")
COLUMNS = ("shape", *BOWL, "use", "members", *TIMES, *NAMES)
"""Headings of the table."""


def _row(line: Mapping[str, str]) -> MapRow:
    time, half, scatter, heave_time, heave_half = (float(line[name]) for name in TIMES)
    return MapRow(
        bowl=MapBowl(line["shape"], *(float(line[name]) for name in BOWL)),
        use=line["use"],
        members=int(line["members"]),
        time=time,
        half=half,
        scatter=scatter,
        heave_time=heave_time,
        heave_half=heave_half,
        numbers=np.array([float(line[name]) for name in NAMES]),
    )


def written(rows: tuple[MapRow, ...], remarks: str) -> str:
    """The table of some rows, as `parsed` reads it."""
    lines = [f"# {line}" for line in remarks.splitlines()] + [",".join(COLUMNS)]
    for row in rows:
        bowl = row.bowl
        dimensions = (bowl.radius, bowl.height, bowl.wall, bowl.base_radius, bowl.base)
        times = (row.time, row.half, row.scatter, row.heave_time, row.heave_half)
        lines.append(
            ",".join(
                (
                    bowl.shape,
                    *(f"{x:g}" for x in (*dimensions, bowl.hole, bowl.mass)),
                    row.use,
                    str(row.members),
                    *(f"{x:.6g}" for x in times),
                    *(f"{x:.6g}" for x in row.numbers),
                )
            )
        )
    return "\n".join(lines) + "\n"
