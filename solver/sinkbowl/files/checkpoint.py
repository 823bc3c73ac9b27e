"""Checkpoints: the state from which a run continues.

The state consists of dataclasses whose fields are arrays or numbers. Every field is stored as a
dataset ``checkpoint/<part>/<field>``, with a checksum over all, so that a new field needs no code
here. What follows from the case (grid, walls, operators) is not stored.
"""

import zlib
from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Any

import h5py
import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.errors import ResultError
from sinkbowl.files.safe_reading import LARGEST

Parts = Mapping[str, Any]  # dataclass instances by their name in the file


def save(group: h5py.Group, parts: Parts) -> None:
    """Store all fields, replacing the previous checkpoint.

    Raises TypeError if a field is neither an array nor a number.
    """
    digest = 0
    for owner, field, name in _fields(parts):
        array = np.asarray(getattr(owner, field))
        if array.dtype.kind not in "biuf":
            raise TypeError(f"{name}: {array.dtype} cannot be stored in a checkpoint")
        if name in group:
            group[name][...] = array
        else:
            group[name] = array
            group[name].attrs["units"] = "SI"
            group[name].attrs["description"] = f"field {field} of {type(owner).__name__}"
        digest = zlib.crc32(array.tobytes(), digest)
    group.attrs["checksum"] = digest


def load(group: h5py.Group, parts: Parts) -> None:
    """Load the stored fields, arrays into the existing arrays.

    parts : as at the start of a run; a number must be a number in the file

    Raises ResultError if fields are missing, do not fit, are not numbers, or do not match the
    checksum; nothing is changed.
    """
    found: dict[str, NDArray[Any]] = {}
    digest = 0
    for owner, field, name in _fields(parts):
        wanted = np.asarray(getattr(owner, field))
        item = group.get(name)
        if not isinstance(item, h5py.Dataset) or item.shape != wanted.shape:
            raise ResultError(f"the checkpoint has no {name} of shape {wanted.shape}")
        if item.dtype != wanted.dtype:
            raise ResultError(f"the checkpoint's {name} is {item.dtype}, not {wanted.dtype}")
        found[name] = item[()]
        if not np.all(_numbers_in(found[name]) | ~_numbers_in(wanted)):
            raise ResultError(f"the checkpoint's {name} has values that are not numbers")
        digest = zlib.crc32(np.asarray(found[name]).tobytes(), digest)
    if group.attrs.get("checksum") != digest:
        raise ResultError("the checkpoint is damaged (its checksum is wrong)")
    for owner, field, name in _fields(parts):
        old = getattr(owner, field)
        if isinstance(old, np.ndarray):
            old[...] = found[name]
        else:
            setattr(owner, field, type(old)(found[name]))


def _numbers_in(array: NDArray[Any]) -> NDArray[np.bool_]:
    """Which elements of an array are possible numbers for a bowl in a tub, SI."""
    return np.asarray(np.abs(array.astype(float)) <= LARGEST)


STORED_AS = {"extended": "virtual"}  # fields whose name in the file differs


def _fields(parts: Parts) -> Iterator[tuple[Any, str, str]]:
    """Owner, field and name in the file of all stored fields, in a fixed order."""
    for part, owner in parts.items():
        for field in fields(owner):
            yield owner, field.name, f"{part}/{STORED_AS.get(field.name, field.name)}"
