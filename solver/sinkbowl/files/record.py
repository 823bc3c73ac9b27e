"""Contents of a result file: the table of its datasets (recorder.py writes, result.py reads).

Everything is SI; the grid is fixed to the bowl (z = 0 at its lowest outer point), velocities are in
the laboratory frame. Besides the table there are the root attributes, the groups ``checkpoint``
(checkpoint.py) and ``levels`` (curves on coarser grids) and, at the beginning, the seal (seal.py).
"""

from __future__ import annotations

from dataclasses import dataclass

KIND = "sinkbowl result"
"""First words of a result file, see seal.py."""

SCHEMA_VERSION = "4"
MOST = {"step": 4_000_000, "frame": 100_000, "event": 100, "point": 100_000, "member": 100}
"""Maximum length of arrays along some dimensions, for writing and reading."""

STATUSES = ("running", "finished", "stopped", "failed")


@dataclass(frozen=True)
class Dataset:
    """One line of the table of datasets: path, dimensions, unit and meaning.

    added: not in all files of this schema; read if present.
    """

    name: str
    dims: tuple[str, ...]
    units: str
    description: str
    added: bool = False

    @property
    def group(self) -> str:
        """Its group, "history"."""
        return self.name.split("/")[0]

    @property
    def column(self) -> str:
        """Its name in the group, "draft"."""
        return self.name.split("/")[1]


_STEP, _EVENT, _FRAME, _POINT = ("step",), ("event",), ("frame",), ("point", "rz")
_CELL, _FIELD = ("r", "z"), ("frame", "r", "z")

DATASETS = (
    Dataset("history/t", _STEP, "s", "time since release"),
    Dataset("history/draft", _STEP, "m", "depth of the outer bottom below the still outer surface"),
    Dataset("history/speed", _STEP, "m/s", "speed of the bowl, positive downwards"),
    Dataset(
        "history/inner_volume", _STEP, "m^3", "volume of water inside the bowl, including the hole"
    ),
    Dataset("history/inner_level", _STEP, "m", "mean inner level above the inner base"),
    Dataset("history/head", _STEP, "m", "draft minus height of the inner base minus inner level"),
    Dataset("history/hole_flow", _STEP, "m^3/s", "flow through the hole, positive into the bowl"),
    Dataset("history/water_volume", _STEP, "m^3", "total water in the tub"),
    Dataset("history/volume_error", _STEP, "1", "relative: water lost or gained since the start"),
    Dataset("history/momentum_error", _STEP, "1", "error of the balance of vertical momentum"),
    Dataset("history/dt", _STEP, "s", "time step"),
    Dataset("history/stride", _STEP, "s", "time step of the velocities"),
    Dataset("history/iterations", _STEP, "1", "iterations of the pressure solver"),
    Dataset("history/outer_level", _STEP, "m", "mean outer level above the still outer surface"),
    Dataset(
        "history/pressure_force", _STEP, "N", "upward force of the water's pressure on the bowl"
    ),
    Dataset("history/buoyancy_correction", _STEP, "N", "upward force for the grid's thicker solid"),
    Dataset(
        "history/hole_force", _STEP, "N", "upward force of an unresolved hole's flow on the bowl"
    ),
    Dataset("history/viscous_force", _STEP, "N", "upward viscous force of the water on the bowl"),
    Dataset("history/clipped_volume", _STEP, "m^3", "water moved to keep volume fractions in 0..1"),
    Dataset("history/kinetic_energy", _STEP, "J", "of water and bowl"),
    Dataset(
        "history/potential_energy",
        _STEP,
        "J",
        "of water and bowl, relative to the start, minus inflow",
    ),
    Dataset("history/energy_lost", _STEP, "J", "in eddies and splashes since the start"),
    Dataset("history/beach_energy", _STEP, "J", "part of energy_lost that the beach absorbed"),
    Dataset(
        "history/pocket_volume",
        _STEP,
        "m^3",
        "volume of closed-off air, without bubbles",
        added=True,
    ),
    Dataset(
        "history/pocket_pressure", _STEP, "Pa", "maximum pressure in closed-off air", added=True
    ),
    Dataset(
        "history/pocket_force", _STEP, "N", "upward force of closed-off air on the bowl", added=True
    ),
    Dataset(
        "history/pocket_energy",
        _STEP,
        "J",
        "energy stored in compressed closed-off air",
        added=True,
    ),
    Dataset(
        "history/pocket_air",
        _STEP,
        "m^3",
        "closed-off air, as its volume at atmospheric pressure",
        added=True,
    ),
    Dataset(
        "history/vented_air",
        _STEP,
        "m^3",
        "closed-off air released since the start, likewise",
        added=True,
    ),
    Dataset(
        "history/inner_momentum",
        _STEP,
        "kg m/s",
        "upward momentum of the water inside the bowl and above it",
        added=True,
    ),
    Dataset("history/aloft_volume", _STEP, "m^3", "water above the bowl's rim", added=True),
    Dataset(
        "history/hole_thrust",
        _STEP,
        "N",
        "pressure and momentum flux through the hole at its inner edge",
        added=True,
    ),
    Dataset(
        "history/foot_pressure",
        _STEP,
        "Pa",
        "pressure on the base beside the hole, at the height of the inner edge",
        added=True,
    ),
    Dataset(
        "events/name",
        _EVENT,
        "1",
        "what happened: start, gate_open, air_closed_off, rim_under, over_rim, full, on_floor, "
        "half_sunk",
    ),
    Dataset("events/t", _EVENT, "s", "time since release at which it happened"),
    Dataset("grid/r_f", ("r_face",), "m", "radii of the cell faces"),
    Dataset("grid/z_f", ("z_face",), "m", "heights of the cell faces above the outer bottom"),
    Dataset("grid/open_fraction", _CELL, "1", "fraction of each cell that is not solid"),
    Dataset("grid/outline", _POINT, "m", "section of the bowl, closed outline, r and z"),
    Dataset("grid/grid_outline", _POINT, "m", "section of the bowl as it is on the grid"),
    Dataset(
        "grid/ballast_outline",
        _POINT,
        "m",
        "sections of the ballast in the case, each closed; no points without ballast",
        added=True,
    ),
    Dataset("frames/t", _FRAME, "s", "time since release"),
    Dataset("frames/draft", _FRAME, "m", "depth of the outer bottom below the still outer surface"),
    Dataset("frames/speed", _FRAME, "m/s", "speed of the bowl, positive downwards"),
    Dataset("frames/volume_fraction", _FIELD, "1", "water fraction of the open part of each cell"),
    Dataset("frames/pressure", _FIELD, "Pa", "pressure above atmospheric, at cell centres"),
    Dataset("frames/u_r", _FIELD, "m/s", "radial velocity of the water, outwards, at cell centres"),
    Dataset(
        "frames/u_z", _FIELD, "m/s", "vertical velocity of the water, upwards, at cell centres"
    ),
)

MEMBER_DATASETS = (
    Dataset(
        "members/sinking_time",
        ("member",),
        "s",
        "time until the rim was under; nan: it did not go under",
    ),
    Dataset(
        "members/draft_offset",
        ("member",),
        "m",
        "additional draft at release, over that of the case",
    ),
    Dataset("members/wave", ("member",), "m", "height of the wave at the bowl, at release"),
)
"""Datasets of a result with members; ``members/0/t`` etc. have the history of each."""

MEMBER_HISTORY = ("t", "draft", "speed", "inner_volume", "inner_level", "head", "hole_flow")
"""Columns of the history kept for each member."""


def columns(group: str, dims: tuple[str, ...] | None = None) -> tuple[str, ...]:
    """Names of the datasets of a group, all or those of given dimensions."""
    return tuple(d.column for d in DATASETS if d.group == group and dims in (None, d.dims))


HISTORY = columns("history")
LATER = frozenset(d.name for d in DATASETS if d.added)
ADDED = frozenset(d.column for d in DATASETS if d.group == "history" and d.added)
GRID = columns("grid")
FRAME_NUMBERS = columns("frames", _FRAME)
FRAME_FIELDS = columns("frames", _FIELD)
