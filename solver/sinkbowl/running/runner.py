"""A whole sinking with the flow solver: steps, readings, events, frames, and the result file.

Ctrl-C ends a run with status "stopped" and a whole file.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from time import monotonic

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.errors import RunError
from sinkbowl.flow.gauge import centre_fields, make_gauge, open_ledgers
from sinkbowl.flow.kernels.extension import has_bad_value
from sinkbowl.flow.step import advance
from sinkbowl.flow.voyage import Voyage, embark
from sinkbowl.reduced import MODELS
from sinkbowl.running.events import FULL, EventLog, open_log
from sinkbowl.running.record import Recorder, check_target

FRAMES = 120
"""Frames over the expected sinking time."""

MOST_FRAMES = 300
"""Frames after which the interval between them doubles."""

SHORTEST_STEP = 1e-8
"""Time step below which a run is given up [s]."""

GROWTH = 1.2
"""Largest growth of the time step from one step to the next."""

PROGRESS_EVERY = 0.1
"""Wall time between two calls of `progress` [s]."""


@dataclass(frozen=True)
class Progress:
    """How far a run has come.

    t [s], draft [m] and step; fraction_done 0..1, an estimate from draft and filling; wall_seconds
    so far and remaining_seconds expected, None where there is nothing to judge by.
    """

    t: float
    draft: float
    fraction_done: float
    wall_seconds: float
    remaining_seconds: float | None
    step: int


@dataclass(frozen=True)
class RunResult:
    """How a run ended.

    status is "finished" or "stopped"; sinking_time in s or None; notes tell how the case was
    computed where that is not what the case says to the letter.
    """

    path: Path
    status: str
    sinking_time: float | None
    outcome: str
    steps: int
    wall_seconds: float
    volume_error: float
    notes: tuple[str, ...] = ()


def run(
    case: Case,
    output: str | Path,
    *,
    overwrite: bool = False,
    progress: Callable[[Progress], None] | None = None,
    frame_interval: float | None = None,
) -> RunResult:
    """Compute a sinking and write it to a result file.

    Parameters
    ----------
    case : what to sink
    output : HDF5 file to write
    overwrite : replace an existing file
    progress : called now and then with the state of the run
    frame_interval : time between two frames [s]; by default the expected sinking time over 120

    Returns
    -------
    RunResult

    Raises
    ------
    CaseError : the case asks for what the solver cannot do; nothing is written
    ResultError : the file cannot be written, or exists and is not to be replaced
    RunError : the run failed; the file keeps what was computed, with status "failed"
    """
    output = Path(output)
    check_target(output, overwrite)
    voyage = embark(case)
    interval = frame_interval or _frame_interval(case)
    start = monotonic()
    with Recorder.create(output, case, overwrite, voyage.notes()) as recorder:
        recorder.attribute("hole_treatment", voyage.hole_treatment)
        recorder.grid(_grid_arrays(voyage))
        log = open_log(case, recorder)
        error = 0.0
        try:
            error = _sail(voyage, recorder, log, interval, progress)
            status, message = "finished", log.outcome
        except KeyboardInterrupt:
            status, message = "stopped", f"stopped by hand at t = {voyage.state.time:.4g} s"
            log.outcome = log.outcome or message
            error = log.previous.get("volume_error", 0.0)
        sinking_time = log.events.get("rim_under")
        recorder.finish(status, sinking_time, message, log.outcome)
    return RunResult(
        path=output,
        status=status,
        sinking_time=sinking_time,
        outcome=log.outcome,
        steps=voyage.state.step,
        wall_seconds=monotonic() - start,
        volume_error=error,
        notes=voyage.notes(),
    )


def _sail(
    voyage: Voyage,
    recorder: Recorder,
    log: EventLog,
    interval: float,
    progress: Callable[[Progress], None] | None,
) -> float:
    """Step until the end; returns the relative volume error."""
    gauge, ledgers = make_gauge(voyage), open_ledgers(voyage)
    log.note("start", 0.0)
    _frame(voyage, recorder)
    next_frame, frames, shown, begun = interval, 1, 0.0, monotonic()
    start_draft = voyage.draft
    while not log.outcome:
        dt = _next_step(voyage)
        body = voyage.body()
        report = advance(voyage.state, body, dt, voyage.ops)
        ledgers.book(voyage, report, dt, body.extra_lift)
        row = gauge.row(voyage, ledgers, report, dt)
        recorder.append_history(row)
        if not log.previous:
            begun = monotonic()  # the first step may have compiled the kernels
        log.watch(voyage, gauge.over_rim(voyage), row)
        if voyage.state.time >= next_frame or log.outcome:
            _frame(voyage, recorder)
            frames += 1
            interval *= 2.0 if frames % MOST_FRAMES == 0 else 1.0
            next_frame += interval
        if progress is not None and (monotonic() - shown > PROGRESS_EVERY or log.outcome):
            shown = monotonic()
            progress(_progress(voyage, row, start_draft, shown - begun, bool(log.outcome)))
    return log.previous["volume_error"]


def _next_step(voyage: Voyage) -> float:
    dt = voyage.time_step()
    if voyage.state.dt > 0.0:
        dt = min(dt, GROWTH * voyage.state.dt)
    if not dt > SHORTEST_STEP:
        raise RunError(
            f"the time step fell to {dt:.1e} s at t = {voyage.state.time:.4g} s: the water moves "
            "too fast for the grid. Try a smaller flow.cell."
        )
    if has_bad_value(voyage.state.u_r) or has_bad_value(voyage.state.u_z):
        raise RunError(
            f"a velocity is not a number at t = {voyage.state.time:.4g} s. Try a smaller flow.cell."
        )
    return dt


def _frame(voyage: Voyage, recorder: Recorder) -> None:
    recorder.frame(voyage.state.time, voyage.draft, voyage.speed, centre_fields(voyage))


def _grid_arrays(voyage: Voyage) -> dict[str, np.ndarray]:
    grid, solid, mesh = voyage.ops.grid, voyage.ops.solid, voyage.ops.mesh
    return {
        "r_f": grid.r_f,
        "z_f": grid.z_f,
        "open_fraction": solid.volume / mesh.whole,
        "outline": voyage.case.bowl.polygon,
        "grid_outline": voyage.layout.bowl.polygon,
    }


def _frame_interval(case: Case) -> float:
    """Expected sinking time over FRAMES [s], from the slowest reduced model that gives one."""
    times = [model(case).sinking_time for model in MODELS.values()]
    known = [t for t in times if t is not None]
    return max(known, default=1.0) / FRAMES


def _progress(
    voyage: Voyage, row: dict[str, float], start_draft: float, wall: float, over: bool
) -> Progress:
    bowl = voyage.case.bowl
    deep = (row["draft"] - start_draft) / max(bowl.rim_height - start_draft, 1e-9)
    full = row["inner_volume"] / (FULL * bowl.inner_capacity)
    done = 1.0 if over else float(np.clip(0.5 * (min(deep, 1.0) + min(full, 1.0)), 0.0, 1.0))
    left = wall * (1.0 - done) / done if done > 0.02 else None
    return Progress(row["t"], row["draft"], done, wall, left, voyage.state.step)
