"""The history of a run as CSV: SI, one row a time step, names and units in the first line."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import numpy as np

from sinkbowl.common.errors import ResultError
from sinkbowl.files.record import DATASETS
from sinkbowl.files.result import Result
from sinkbowl_post.decimal_comma import comma_table
from sinkbowl_post.output import check_output, written_aside


def export_history(result: Result, path: Path, comma: bool = False) -> int:
    """Write the history of a run as CSV, one row a time step.

    Parameters
    ----------
    comma : whether numbers get decimal commas, and ; stands between the cells

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
    text = StringIO()
    np.savetxt(text, table, fmt="%.9g", delimiter=",", header=header, comments="")
    told = comma_table(text.getvalue()) if comma else text.getvalue()
    with written_aside(path.parent) as aside:
        (aside / path.name).write_text(told, encoding="utf-8")
    return len(table)
