"""Whether a run can be resumed from a result file for a given case."""

import tomllib
from collections.abc import Mapping
from difflib import unified_diff
from pathlib import Path

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import Result, read_result
from sinkbowl.files.safe_reading import is_toml
from sinkbowl.scatter.disturbance import UNDISTURBED, Disturbance

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
