"""The runs of a comparison, each with its reduced models and measurements."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sinkbowl.common.errors import CaseError, ResultError
from sinkbowl.files.result import Result, read_result
from sinkbowl_post.comparing.compare import Comparison, compare
from sinkbowl_post.measured.measured import Trace, Trials, read_measured
from sinkbowl_post.measured.overlay import Overlay, overlay_of

MOST = 6  # maximum number of runs on one page


@dataclass(frozen=True, eq=False)
class Run:
    """One run among those compared.

    label : its unique name, that of its file
    """

    label: str
    result: Result
    comparison: Comparison


def read_runs(
    paths: Sequence[Path],
    measured: Path | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> list[Run]:
    """Read result files and solve the reduced models of each.

    paths : result files, at least one
    measured : table of trials, which go to the runs with their hole and mass, or a trace
    progress : called with the number of runs compared and in total

    Raises ResultError if a result cannot be read, is given twice or has no step, or there are too
    many; CaseError if the measured table cannot be read, or has no trial of any of the bowls.
    """
    if len(paths) > MOST:
        raise ResultError(
            f"{len(paths)} results are too many: the limit is {MOST}. Give fewer, or use for many "
            "runs: sinkbowl curves FOLDER."
        )
    places = [path.resolve() for path in paths]
    for k, path in enumerate(paths):
        if places[k] in places[:k]:
            raise ResultError(f"{path}: is given twice.")
    results = [read_result(path) for path in paths]
    for result in results:
        if not result.history["t"].size:
            raise ResultError(f"{result.path}: has no time step ({result.status}).")
    table = read_measured(measured) if measured else None
    overlays = _overlays(results, table) if table else [None] * len(results)
    runs = []
    for label, result, overlay in zip(_labels(paths), results, overlays, strict=True):
        runs.append(Run(label, result, replace(compare(result), overlay=overlay)))
        if progress is not None:
            progress(len(runs), len(results))
    return runs


def _labels(paths: Sequence[Path]) -> list[str]:
    """Names of the files, with their folder if names are equal."""
    stems = [path.stem for path in paths]
    return [
        path.stem if stems.count(path.stem) == 1 else f"{path.resolve().parent.name}/{path.stem}"
        for path in paths
    ]


def _overlays(results: Sequence[Result], table: Trials | Trace) -> list[Overlay | None]:
    """Measurements of each bowl; of several bowls some may have no trial, but not all."""
    found: list[Overlay | None] = []
    refused: list[CaseError] = []
    for result in results:
        try:
            found.append(overlay_of(result.case, table))
        except CaseError as error:
            refused.append(error)
            found.append(None)
    if len(refused) == len(results):
        raise refused[0]
    return found
