"""A result file at the start of its run: attributes and empty datasets."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

import h5py
import numpy as np

from sinkbowl.common.text_file import as_text
from sinkbowl.files.record import DATASETS, FRAME_NUMBERS, HISTORY, SCHEMA_VERSION, Dataset
from sinkbowl.scatter.interval import as_attributes

if TYPE_CHECKING:
    from sinkbowl.case.case import Case

HISTORY_CHUNK = 2048
"""Rows of history per chunk, and the maximum number kept in memory."""

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
