"""A whole flow run, new or resumed, with its result file.

Ctrl-C ends a run with status "stopped" and a complete file. Once the rim is under the time is
final: if the computation fails later, the run has status "finished" and a message.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from time import monotonic

import numpy as np

from sinkbowl.case.case import Case, load_case
from sinkbowl.common import GRAVITY
from sinkbowl.common.shown import Shown, TextTable
from sinkbowl.corrected.correction import flow_interval
from sinkbowl.files.checkpoint import check_same_grid, resumable
from sinkbowl.files.work_file import check_target
from sinkbowl.flow.simulation import Simulation, initialise
from sinkbowl.reduced import MODELS
from sinkbowl.running.compiling import compile_side_by_side
from sinkbowl.running.events import FULL, cut_short_words
from sinkbowl.running.forecast import check_patience
from sinkbowl.running.job_queue import Pace
from sinkbowl.running.numerical_checks import NumericalFailure
from sinkbowl.running.run_state import RunState, begin, grid_arrays, resume_run
from sinkbowl.scatter import UNDISTURBED, Disturbance
from sinkbowl.scatter.interval import TimeInterval, time_text
from sinkbowl.statics.hydrostatics import floats

AT_THE_RIM = "computed until its rim was under"
FRAMES = 120  # frames over the expected sinking time
THROWN_OUT = "thrown_out_m3"  # root attribute: water that left through the top of the grid
CHECKPOINT_EVERY = 2.0  # wall time between two checkpoints [s]
CHECKPOINT_SHARE = 0.05  # largest share of the wall time for checkpoints


@dataclass(frozen=True, repr=False)
class RunResult(Shown):
    """The end of a run.

    status is "finished" or "stopped"; sinking_time in s or None; notes: deviations of the
    computation from the case; interval: of the sinking time.
    """

    path: Path
    status: str
    sinking_time: float | None
    outcome: str
    steps: int
    wall_seconds: float
    volume_error: float
    notes: tuple[str, ...] = ()
    interval: TimeInterval | None = None

    @property
    def table(self) -> TextTable:
        """The end of the run."""
        rows = [
            ("outcome", self.outcome),
            ("sinking time", time_text(self.sinking_time, self.interval)),
            ("steps", f"{self.steps} in {self.wall_seconds:.0f} s"),
            ("volume error", f"{abs(self.volume_error):.1g}"),
            *([("interval", self.interval.words)] if self.interval else []),
            *(("note", note) for note in self.notes),
        ]
        return TextTable(rows, f"{self.path}: {self.status}")


def run(
    case: Case | str | Path,
    output: str | Path,
    *,
    overwrite: bool = False,
    resume: bool = False,
    progress: Callable[[Progress], None] | None = None,
    frame_interval: float | None = None,
    checkpoint_every: float = CHECKPOINT_EVERY,
    disturbance: Disturbance = UNDISTURBED,
    to_the_rim: bool = False,
) -> RunResult:
    """Compute a sinking and write it to a result file.

    Parameters
    ----------
    case : the case, or its file
    output : HDF5 file to write
    overwrite : replace an existing file
    resume : continue the interrupted run in `output` from its last checkpoint, with the same
        numbers as without the interruption; start if there is no file
    progress : called regularly with the state of the run
    frame_interval : time between two frames [s]; by default the expected sinking time over 120;
        a resumed run keeps its own
    checkpoint_every : wall time between two checkpoints [s]; less often if they would take more
        than a twentieth of the time
    disturbance : deviation of the release from the case
    to_the_rim : end as soon as the rim is under, with status "stopped"; it can be resumed

    Returns
    -------
    RunResult

    Raises
    ------
    CaseError : the solver cannot compute the case, or would take days; nothing is written
    ResultError : the file cannot be written, another run writes it, it exists and must not be
        replaced, or it cannot be resumed
    RunError : the run failed; the file has the part computed so far, with status "failed"
    """
    case, output = load_case(case), Path(output)
    before = resumable(output, case, disturbance) if resume and output.exists() else None
    if before is None:
        check_target(output, overwrite)
    compile_side_by_side(case)
    if before is None:
        check_patience(case)
    sim = initialise(case, disturbance)
    start = monotonic()
    if before is None:
        pace = frame_interval or _frame_interval(case)
        run_state = begin(sim, output, overwrite, pace, disturbance)
    else:
        check_same_grid(before, grid_arrays(sim))
        run_state = resume_run(sim, before)
    with run_state.recorder as recorder:
        log = run_state.log
        try:
            if before is None:
                run_state.open_run()
            reporter = ProgressReporter(sim, progress, to_the_rim)
            _time_loop(run_state, reporter, checkpoint_every)
            status, message = "finished", log.outcome
            if not log.outcome:
                run_state.checkpoint()
                status, message, log.outcome = "stopped", AT_THE_RIM, cut_short_words(case)
        except NumericalFailure as error:
            if "rim_under" not in log.events:
                raise
            status, message, log.outcome = "finished", str(error), cut_short_words(case)
        except KeyboardInterrupt:
            status, message = "stopped", f"stopped by hand at t = {sim.state.time:.4g} s"
            log.outcome = log.outcome or message
        sinking_time = None if floats(case) else log.events.get("rim_under")
        history = {name: recorder.column(name) for name in ("t", "draft", "speed")}
        interval = flow_interval(case, [sinking_time], [history], sim.layout.closed)
        recorder.attribute(THROWN_OUT, run_state.watch.thrown_out)
        recorder.attribute("notes", "\n".join(run_state.notes()))
        recorder.finish(status, sinking_time, message, log.outcome, interval)
    return RunResult(
        path=output,
        status=status,
        sinking_time=sinking_time,
        outcome=log.outcome,
        steps=sim.state.step,
        wall_seconds=monotonic() - start,
        volume_error=log.previous.get("volume_error", 0.0),
        notes=(*run_state.notes(), *run_state.air_notes()),
        interval=interval,
    )


def _time_loop(run_state: RunState, reporter: ProgressReporter, checkpoint_every: float) -> None:
    """Time loop, with regular checkpoints."""
    due, log = monotonic() + checkpoint_every, run_state.log

    def is_over() -> bool:
        return bool(log.outcome) or (reporter.to_the_rim and "rim_under" in log.events)

    over = is_over()
    while not over:
        row = run_state.step()
        over = is_over()
        if monotonic() >= due and not over:
            begun = monotonic()
            run_state.checkpoint()
            ended = monotonic()
            due = ended + max(checkpoint_every, (ended - begun) / CHECKPOINT_SHARE)
        reporter.after(row, over)


def _frame_interval(case: Case) -> float:
    """Expected sinking time over FRAMES [s], from the slowest reduced model that has one."""
    times = [model(case).sinking_time for model in MODELS.values()]
    known = [t for t in times if t is not None]
    fall = math.sqrt(2.0 * case.bowl.rim_height / GRAVITY)  # of one that goes under at once
    return (max(known, default=1.0) or fall) / FRAMES


PROGRESS_EVERY = 0.1  # wall time between two calls [s]


@dataclass(frozen=True)
class Progress:
    """Progress of a run.

    t [s], draft [m] and step; fraction_done 0..1, estimated from draft and filling; wall_seconds so
    far and remaining_seconds, None if unknown.
    """

    t: float
    draft: float
    fraction_done: float
    wall_seconds: float
    remaining_seconds: float | None
    step: int


@dataclass
class ProgressReporter:
    """Calls `on_progress` with the state of a run; the estimate uses only this session's part.

    The clock starts after the first step, which may compile the kernels. The fraction done never
    decreases, although bowl and fountain may move back.
    """

    sim: Simulation
    on_progress: Callable[[Progress], None] | None
    to_the_rim: bool = False
    pace: Pace | None = None
    last_report: float = 0.0
    furthest: float = 0.0

    def after(self, row: dict[str, float], over: bool) -> None:
        """Report after a step; `over` at the last one."""
        now = monotonic()
        self.pace = self.pace or Pace(self._share_done(row))
        if self.on_progress is None or not (over or now - self.last_report > PROGRESS_EVERY):
            return
        self.last_report = now
        self.furthest = max(self.furthest, self._share_done(row))
        done = 1.0 if over else self.furthest
        wall, left = self.pace.seconds, self.pace.left(done)
        self.on_progress(Progress(row["t"], row["draft"], done, wall, left, self.sim.state.step))

    def _share_done(self, row: dict[str, float]) -> float:
        bowl, start = self.sim.case.bowl, self.sim.start_draft
        deep = (row["draft"] - start) / max(bowl.rim_height - start, 1e-9)
        full = deep if self.to_the_rim else row["inner_volume"] / (FULL * bowl.inner_capacity)
        return float(np.clip(0.5 * (min(deep, 1.0) + min(full, 1.0)), 0.0, 1.0))
