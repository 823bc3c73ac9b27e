"""The history of a run as CSV: SI, one row a time step, names and units in the first line."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sinkbowl.common.errors import ResultError
from sinkbowl.files.record import DATASETS
from sinkbowl.files.result import Result
from sinkbowl_post.exporting.aside import written_aside
from sinkbowl_post.style import check_output


def export_history(result: Result, path: Path) -> int:
    """Write the history of a run as CSV, one row a time step.

    Returns
    -------
    int : number of rows

    Raises
    ------
    ResultError : the file name does not end in .csv, its folder is missing, or there is no history
    """
    check_output(path, (".csv",))
    columns = [d for d in DATASETS if d.group == "history" and d.column in result.history]
    table = np.column_stack([result.history[dataset.column] for dataset in columns])
    if not len(table):
        raise ResultError(f"{result.path}: holds no history yet (status: {result.status}).")
    header = ",".join(f"{dataset.column} [{dataset.units}]" for dataset in columns)
    with written_aside(path.parent) as aside:
        np.savetxt(aside / path.name, table, fmt="%.9g", delimiter=",", header=header, comments="")
    return len(table)
