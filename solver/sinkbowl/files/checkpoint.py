"""Checkpoints: the state from which a run continues, and whether it can for a given case.

The state consists of dataclasses whose fields are arrays or numbers. Every field is stored as a
dataset ``checkpoint/<part>/<field>``, with a checksum over all, so that a new field needs no code
here. What follows from the case (grid, walls, operators) is not stored.
"""

import tomllib
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import fields
from difflib import unified_diff
from pathlib import Path
from typing import Any

import h5py
import numpy as np
from numpy.typing import NDArray

from sinkbowl.case.case import Case
from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import Result, read_result
from sinkbowl.files.safe_reading import LARGEST, is_toml
from sinkbowl.scatter import UNDISTURBED, Disturbance

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


DISTURBANCE = {"draft": "release_draft_offset_m", "wave": "release_wave_m"}
"""Root attributes of the parts of a disturbance."""

STARTED_WITH = {
    "case": "was started with another case. Restore the case, or start again with --overwrite. "
    "The difference:\n",
    "outline": "was started with another outline of the bowl. Restore the outline file, or start "
    "again with --overwrite.",
    "release": "was started with another release. Give the same --seed, or start again with "
    "--overwrite.",
}
"""Messages for a run that cannot be resumed, by what differs."""


def other_than(
    result: Result, case: Case, disturbance: Disturbance | None = None, remarks: bool = True
) -> str:
    """What differs in a result: "case", "outline" or "release"; empty if nothing does.

    The outline is compared because it may come from a file named in the text.

    disturbance : of the release; None if it does not matter
    remarks : whether comments in the text of the case count
    """
    text = str(result.attrs["case_text"])
    same = is_toml(text) and tomllib.loads(text) == tomllib.loads(case.text)
    if text != case.text and (remarks or not same):
        return "case"
    if not np.array_equal(result.grid.get("outline", ()), case.bowl.polygon):
        return "outline"
    release = {part: float(result.attrs.get(name, 0.0)) for part, name in DISTURBANCE.items()}
    return "" if disturbance in (None, Disturbance(**release)) else "release"


def result_of(
    path: Path, case: Case, disturbance: Disturbance | None = None, remarks: bool = True
) -> Result | None:
    """The result so far of this very case, and release, in a file; None where it has none.

    disturbance, remarks : as for `other_than`

    Raises ResultError if the file is damaged.
    """
    result = read_result(path) if path.exists() else None
    return None if result is None or other_than(result, case, disturbance, remarks) else result


def resumable(path: Path, case: Case, disturbance: Disturbance = UNDISTURBED) -> Result:
    """The result so far of an interrupted run of the same case with the same release.

    Raises ResultError if it is no result, finished, or has another case (the difference is shown)
    or release.
    """
    result = read_result(path)
    if result.status == "finished":
        raise ResultError(
            f"{path}: is finished ({result.outcome}); there is nothing to resume. Give --overwrite "
            "to compute it again."
        )
    other = other_than(result, case, disturbance)
    if other:
        before = str(result.attrs["case_text"])
        names = "in the result", str(case.path or "now")
        lines = unified_diff(before.splitlines(), case.text.splitlines(), *names, n=1, lineterm="")
        shown = "\n".join(lines) if other == "case" else ""
        raise ResultError(f"{path}: {STARTED_WITH[other]}{shown}")
    return result


def check_same_grid(result: Result, arrays: Mapping[str, np.ndarray]) -> None:
    """Refuse to resume if this version makes another grid for the same case."""
    same = all(np.array_equal(found, arrays[name]) for name, found in result.grid.items())
    if not same:
        raise ResultError(
            f"{result.path}: was started by a version that makes another grid for this case. "
            "Continue with that version, or start again with --overwrite."
        )
