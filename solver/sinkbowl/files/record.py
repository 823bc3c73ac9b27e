"""Contents of a result file: the table of its datasets (recorder.py writes, result.py reads).

Everything is SI; the grid is fixed to the bowl (z = 0 at its lowest outer point), velocities are in
the laboratory frame. Besides the table there are the root attributes, the groups ``checkpoint``
(checkpoint.py) and ``grids`` (curves on several grids) and, at the beginning, the seal
(safe_reading.py).
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version
from typing import Any

import h5py
import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.text_file import as_text
from sinkbowl.scatter.interval import as_attributes

KIND = "sinkbowl result"  # first words of a result file: its seal

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


def table_of(rows: str) -> tuple[Dataset, ...]:
    """The datasets of a table with a row each: name, dimensions, unit and meaning.

    A + before the meaning marks what not all files of the schema have; indented lines go on.
    """
    found = []
    for row in rows.strip().replace("\n    ", " ").split("\n"):
        name, dims, units, description = (cell.strip() for cell in row.split("|"))
        meaning = description.removeprefix("+ ")
        found.append(Dataset(name, tuple(dims.split()), units, meaning, meaning != description))
    return tuple(found)


DATASETS = table_of("""
history/t | step | s | time since release
history/draft | step | m | depth of the outer bottom below the still outer surface
history/speed | step | m/s | speed of the bowl, positive downwards
history/inner_volume | step | m^3 | volume of water inside the bowl, including the hole
history/inner_level | step | m | mean inner level above the inner base
history/head | step | m | draft minus height of the inner base minus inner level
history/hole_flow | step | m^3/s | flow through the hole, positive into the bowl
history/water_volume | step | m^3 | total water in the tub
history/volume_error | step | 1 | relative: water lost or gained since the start
history/momentum_error | step | 1 | error of the balance of vertical momentum
history/dt | step | s | time step
history/stride | step | s | time step of the velocities
history/iterations | step | 1 | iterations of the pressure solver
history/outer_level | step | m | mean outer level above the still outer surface
history/pressure_force | step | N | upward force of the water's pressure on the bowl
history/buoyancy_correction | step | N | upward force for the grid's thicker solid
history/hole_force | step | N | upward force of an unresolved hole's flow on the bowl
history/viscous_force | step | N | upward viscous force of the water on the bowl
history/clipped_volume | step | m^3 | water moved to keep volume fractions in 0..1
history/kinetic_energy | step | J | of water and bowl
history/potential_energy | step | J | of water and bowl, relative to the start, minus inflow
history/energy_lost | step | J | in eddies and splashes since the start
history/beach_energy | step | J | part of energy_lost that the beach absorbed
history/pocket_volume | step | m^3 | + volume of closed-off air, without bubbles
history/pocket_pressure | step | Pa | + maximum pressure in closed-off air
history/pocket_force | step | N | + upward force of closed-off air on the bowl
history/pocket_energy | step | J | + energy stored in compressed closed-off air
history/pocket_air | step | m^3 | + closed-off air, as its volume at atmospheric pressure
history/vented_air | step | m^3 | + closed-off air released since the start, likewise
history/inner_momentum | step | kg m/s | + upward momentum of the water inside the bowl and above
    it
history/aloft_volume | step | m^3 | + water above the bowl's rim
history/hole_thrust | step | N | + pressure and momentum flux through the hole at its inner edge
history/foot_pressure | step | Pa | + pressure on the base beside the hole, at the height of the
    inner edge
events/name | event | 1 | what happened: start, gate_open, air_closed_off, rim_under, over_rim,
    full, on_floor, half_sunk
events/t | event | s | time since release at which it happened
grid/r_f | r_face | m | radii of the cell faces
grid/z_f | z_face | m | heights of the cell faces above the outer bottom
grid/open_fraction | r z | 1 | fraction of each cell that is not solid
grid/outline | point rz | m | section of the bowl, closed outline, r and z
grid/grid_outline | point rz | m | section of the bowl as it is on the grid
grid/ballast_outline | point rz | m | + sections of the ballast in the case, each closed; no
    points without ballast
frames/t | frame | s | time since release
frames/draft | frame | m | depth of the outer bottom below the still outer surface
frames/speed | frame | m/s | speed of the bowl, positive downwards
frames/volume_fraction | frame r z | 1 | water fraction of the open part of each cell
frames/pressure | frame r z | Pa | pressure above atmospheric, at cell centres
frames/u_r | frame r z | m/s | radial velocity of the water, outwards, at cell centres
frames/u_z | frame r z | m/s | vertical velocity of the water, upwards, at cell centres
""")

MEMBER_DATASETS = table_of("""
members/sinking_time | member | s | time until the rim was under; nan: it did not go under
members/draft_offset | member | m | additional draft at release, over that of the case
members/wave | member | m | height of the wave at the bowl, at release
""")
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
FRAME_NUMBERS = columns("frames", ("frame",))
FRAME_FIELDS = columns("frames", ("frame", "r", "z"))


HISTORY_CHUNK = 2048  # rows of history per chunk, and the maximum number kept in memory

RUNNING = {
    "status": "running",
    "message": "",
    "outcome": "",
    "sinking_time_s": np.nan,
    **as_attributes(None),
}
"""Root attributes of a run in progress."""


def lay_out_file(file: h5py.File, case: Case, notes: Sequence[str]) -> None:
    """Write the attributes and create datasets for history, events and times of frames."""
    file.attrs.update(
        {
            "schema_version": SCHEMA_VERSION,
            "tool_version": version("sinkbowl"),
            "units": "SI: m, kg, s, N, Pa",
            "title": case.title,
            "case_text": case.text,
            "case_path": as_text(str(case.path.absolute())) if case.path else "",
            "case_hash": hashlib.sha256(case.text.encode()).hexdigest(),
            "notes": "\n".join(notes),
            "members": 1,
        }
        | RUNNING
    )
    for name in HISTORY:
        extendable(file, f"history/{name}", np.dtype("f8"), (), HISTORY_CHUNK)
    for name in FRAME_NUMBERS:
        extendable(file, f"frames/{name}", np.dtype("f8"), (), HISTORY_CHUNK)
    extendable(file, "events/name", h5py.string_dtype(), (), 16)
    extendable(file, "events/t", np.dtype("f8"), (), 16)


def extendable(
    file: h5py.File,
    name: str,
    dtype: np.dtype[Any],
    shape: tuple[int, ...],
    chunk: int,
    **filters: Any,
) -> None:
    """Create an empty dataset that can grow along its first dimension."""
    file.create_dataset(
        name,
        shape=(0, *shape),
        maxshape=(None, *shape),
        chunks=(chunk, *shape),
        dtype=dtype,
        **filters,
    )
    label(file, name)


def label(file: h5py.File, name: str) -> None:
    """Set unit, meaning and dimensions of a dataset from the table."""
    describe(file[name], next(d for d in DATASETS if d.name == name))


def describe(dataset: h5py.Dataset, entry: Dataset) -> None:
    """Set unit, meaning and dimensions of a dataset from its line in a table of datasets."""
    dataset.attrs.update({"units": entry.units, "description": entry.description})
    for axis, dim in enumerate(entry.dims):
        dataset.dims[axis].label = dim
