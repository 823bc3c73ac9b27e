"""The map's table from the releases: means, scatter, and heave's times."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from mapping.releases import read
from sinkbowl.common.errors import RunError
from sinkbowl.common.sinking import Sinking, first_at
from sinkbowl.common.text_file import csv_text
from sinkbowl.corrected.flow_map import COLUMNS, KEPT_OUT, MEASURED, REPEATED, MapBowl, MapRow
from sinkbowl.corrected.similarity import similarity
from sinkbowl.design.budget.variation import meniscus_aside
from sinkbowl.reduced import MODELS
from sinkbowl.verification.flow_map import Times, as_the_flow_sees_it


def map_rows(
    table: Path, fitted: Sequence[MapBowl], kept_out: Sequence[MapBowl]
) -> tuple[MapRow, ...]:
    """Rows of all bowls whose releases a table holds."""
    times: dict[str, list[tuple[float, float]]] = {}
    for line in read(table):
        if not line["trouble"]:
            rim, half = float(line["rim [s]"]), float(line["half [s]"])
            times.setdefault(line["bowl"], []).append((rim, half))
    return tuple(
        _measured(bowl, use, times[bowl.name])
        for use, bowls in ((MEASURED, fitted), (KEPT_OUT, kept_out))
        for bowl in bowls
        if bowl.name in times
    )


def candidate_rows(bowls: Sequence[MapBowl]) -> list[MapRow]:
    """Rows of bowls that nobody has released yet, with their dimensionless numbers."""
    return [_by_heave(bowl) for bowl in bowls]


def _measured(bowl: MapBowl, use: str, times: Sequence[tuple[float, float]]) -> MapRow:
    rims, halves = np.array(times).T
    repeated = len(rims) == REPEATED
    mean = float(rims.mean())
    return replace(
        _by_heave(bowl),
        use=use,
        members=len(rims),
        time=mean,
        half=float(halves.mean()),
        scatter=float(rims.std(ddof=1)) / mean if repeated else math.nan,
    )


def _by_heave(bowl: MapBowl) -> MapRow:
    """A row as the heave model alone would have it."""
    case = meniscus_aside(as_the_flow_sees_it(bowl.case()))
    heave = _times_of(MODELS["heave"](case), case.bowl.rim_height)
    return MapRow(
        bowl=bowl,
        use="",
        members=0,
        time=heave.rim,
        half=heave.half,
        scatter=math.nan,
        heave_time=heave.rim,
        heave_half=heave.half,
        numbers=similarity(case, heave.rim),
    )


def _times_of(sinking: Sinking, rim: float) -> Times:
    """The same of a reduced model, which ends its leg at the rim to round-off.

    Raises
    ------
    RunError : its rim never goes under
    """
    if sinking.sinking_time is None:
        raise RunError(f"{sinking.model}: {sinking.outcome}")
    half = first_at(sinking.t, sinking.draft, 0.5 * (sinking.draft[0] + rim))
    return Times(sinking.sinking_time, half)


def written(rows: tuple[MapRow, ...], remarks: str) -> str:
    """A table of rows, as `parsed` reads it."""
    lines = []
    for row in rows:
        bowl = row.bowl
        dimensions = (bowl.radius, bowl.height, bowl.wall, bowl.base_radius, bowl.base)
        times = (row.time, row.half, row.scatter, row.heave_time, row.heave_half)
        lines.append(
            (
                bowl.shape,
                *(f"{x:g}" for x in (*dimensions, bowl.hole, bowl.mass)),
                row.use,
                str(row.members),
                *(f"{x:.6g}" for x in (*times, *row.numbers)),
            )
        )
    return csv_text(COLUMNS, lines, remarks.splitlines())
