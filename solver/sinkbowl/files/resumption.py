"""Whether a run can be resumed from a result file for a given case."""

import difflib
import tomllib
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.errors import ResultError
from sinkbowl.files.recorder import Recorder
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


def note_disturbance(recorder: Recorder, disturbance: Disturbance) -> None:
    """Store the disturbance of the release."""
    for part, name in DISTURBANCE.items():
        recorder.attribute(name, getattr(disturbance, part))


def disturbance_of(result: Result) -> Disturbance:
    """Disturbance of the release of a result."""
    return Disturbance(**{p: float(result.attrs.get(n, 0.0)) for p, n in DISTURBANCE.items()})


def other_than(
    result: Result, case: Case, disturbance: Disturbance | None = None, remarks: bool = True
) -> str:
    """What differs in a result: "case", "outline" or "release"; empty if nothing does.

    The outline is compared because it may come from a file named in the text.

    Parameters
    ----------
    disturbance : of the release; None if it does not matter
    remarks : whether comments in the text of the case count
    """
    text = str(result.attrs["case_text"])
    if text != case.text and (remarks or not _says_the_same(text, case.text)):
        return "case"
    if not np.array_equal(result.grid.get("outline", ()), case.bowl.polygon):
        return "outline"
    return "" if disturbance in (None, disturbance_of(result)) else "release"


def finished_result(
    path: Path, case: Case, disturbance: Disturbance | None = None, remarks: bool = True
) -> Result | None:
    """The finished result of this very case, and release, in a file; None where it has none.

    Parameters
    ----------
    disturbance, remarks : as for `other_than`

    Raises
    ------
    ResultError : the file is damaged
    """
    if not path.exists():
        return None
    result = read_result(path)
    same = result.status == "finished" and not other_than(result, case, disturbance, remarks)
    return result if same else None


def _says_the_same(text: str, other: str) -> bool:
    return is_toml(text) and tomllib.loads(text) == tomllib.loads(other)


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
        shown = _difference(before, case.text, case) if other == "case" else ""
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


def _difference(before: str, now: str, case: Case) -> str:
    lines = difflib.unified_diff(
        before.splitlines(),
        now.splitlines(),
        fromfile="in the result",
        tofile=str(case.path or "now"),
        n=1,
        lineterm="",
    )
    return "\n".join(lines)
