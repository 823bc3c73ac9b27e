"""Parallel compilation of the kernels into an empty cache.

Two processes call the kernels of one half of a time step each, a third those of the reduced models,
with arrays of a run's types; results are discarded. Each stores machine code in numba's cache, from
which the run loads it. Numba's index of a kernel allows only one writer: the processes share only
the kernels of the discharge law, which are small and identical, and a lock makes other runs wait
until the cache is complete.

The processes are plain interpreters: spawned ones would run the caller's script again.
"""

import contextlib
import gc
import hashlib
import os
import pickle
import subprocess
import sys
import threading
import warnings
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO

import numba
import numpy as np
from filelock import lock_descriptor

from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.compiled import CACHE, SOURCES
from sinkbowl.compiled.cache import unkept
from sinkbowl.flow.diagnostics import make_diagnostics, open_budget
from sinkbowl.flow.grid import uniform_grid
from sinkbowl.flow.kernels.extension import has_bad_value
from sinkbowl.flow.layout import lay_out
from sinkbowl.flow.operators import make_operators
from sinkbowl.flow.simulation import initialise
from sinkbowl.flow.solid import place_solid
from sinkbowl.flow.state import HeaveBody, empty_state
from sinkbowl.flow.step import (
    StepReport,
    Stride,
    carry_water,
    hydrostatic_defect,
    predict_velocity,
    solve_pressure_and_heave,
)
from sinkbowl.reduced.discharge import law_of_equal
from sinkbowl.reduced.heave import first_state
from sinkbowl.reduced.kernels.filling import fill
from sinkbowl.reduced.kernels.hole import flow_of_all, jet_of_all
from sinkbowl.reduced.kernels.integration import ROW
from sinkbowl.reduced.kernels.rosenbrock import HEAVE
from sinkbowl.reduced.legs import integrate, terms_along
from sinkbowl.reduced.tables import tabulate
from sinkbowl.running.process_pool import cores

STEP = 1e-3  # time step of the warm-up [s]; arbitrary
FLOW, HEAD, REYNOLDS = 1e-4, 1e-2, 1e4  # arbitrary values [m^3/s], [m]


def warm_up_surface(case: Case) -> None:
    """Initialise, move the water, and read the diagnostics."""
    sim = initialise(case)
    state, ops = sim.state, sim.ops
    has_bad_value(state.u_r)
    sim.time_step()
    for state.step in range(2):  # r before z, then z before r
        carry_water(state, STEP, ops)
    for force in ops.forces:
        force.act(state, sim.mesh, STEP)
    hydrostatic_defect(state, sim.body(), ops)
    if ops.pockets is not None:
        state.pockets, state.pocket_air[0] = 1, 1.0  # so that one is measured
        ops.pockets.follow(state, sim.mesh)
    state.time = STEP
    still = StepReport(STEP, 0.0, 0.0, 0.0, 0)
    make_diagnostics(sim).row(sim, open_budget(sim), still, STEP)


def warm_up_pressure(_: Case) -> None:
    """Convect and project in an empty small tub."""
    grid = uniform_grid(1.0, 0.0, 1.0, 8, 8)
    ops, state = make_operators(grid, place_solid(grid, None), 1.0), empty_state(grid)
    predict_velocity(state, Stride(STEP), ops)
    solve_pressure_and_heave(state, HeaveBody(1.0, GRAVITY), 0.0, Stride(STEP), ops)


def warm_up_models(case: Case) -> None:
    """Integrate for no time, and evaluate the discharge law."""
    tables, law = tabulate(case), law_of_equal(case)
    bowl, state = tables.bowl, first_state(tables)
    integrate(HEAVE, bowl, state, False, latest=0.0)
    terms_along(bowl, np.zeros(1), state[None, :])
    fill(bowl, False, HEAD, np.zeros(1), np.zeros((1, ROW)), np.zeros(ROW))
    flow_of_all(law.rows, HEAD)
    jet_of_all(law.rows, np.zeros(1), FLOW, 0.0, bowl.rim)
    law.flow(HEAD)
    law.jet(FLOW, 0.0, bowl.rim)
    law.coefficient_at(REYNOLDS)
    law.coefficient_of_flow(FLOW)


REHEARSALS = {
    "surface": warm_up_surface,
    "pressure": warm_up_pressure,
    "models": warm_up_models,
}


def _whole() -> str:
    """Name of a file in the cache folder that marks it as complete.

    It depends on path and dates of the sources, as numba's cache does: for another installation of
    the same sources the cache is empty.
    """
    digest = hashlib.sha256()
    for source in SOURCES:
        digest.update(f"{source} {source.stat().st_mtime_ns}\n".encode())
    return f"whole-{digest.hexdigest()[:16]}"


WHOLE = _whole()

LOCK = ".lock"


def compile_side_by_side(case: Case) -> None:
    """Fill the cache of kernels, unless it is complete or read-only, or there is one core.

    Failures give a warning; the kernels are then compiled when first called. Raises CaseError if
    the case cannot be computed.
    """
    if (CACHE / WHOLE).exists() or cores() < 2 or numba.config.DISABLE_JIT:  # type: ignore[attr-defined]
        return
    lay_out(case)
    try:
        CACHE.mkdir(parents=True, exist_ok=True)
        with (CACHE / LOCK).open("w") as lock:
            lock_descriptor(lock.fileno())
            if not (CACHE / WHOLE).exists():
                _fill(case, CACHE / WHOLE)
    except OSError:
        return


def _fill(case: Case, mark: Path) -> None:
    """Call all kernels in parallel; write the mark if all succeeded."""
    with TemporaryFile() as said:
        workers = []
        try:
            for name in REHEARSALS:
                workers.append(_start(said))
                _send(workers[-1], (name, case))
            codes = [worker.wait() for worker in workers]
        finally:
            for worker in workers:
                worker.kill()
                worker.communicate()
        if not any(codes):
            mark.touch()
            return
        said.seek(0)
        lines = said.read().decode(errors="replace").split("\n")
    reason = next((line for line in reversed(lines) if line.strip()), f"exit codes {codes}")
    warnings.warn(
        f"Parallel compilation failed; one process compiles instead: {reason}",
        RuntimeWarning,
        stacklevel=4,
    )


def _start(said: IO[bytes]) -> subprocess.Popen[bytes]:
    """A process with the same module path, without Ctrl-C."""
    script = f"import sys; sys.path[:] = {sys.path!r}; from {__name__} import work; work()"
    return subprocess.Popen(
        [sys.executable, "-c", script],
        stdin=subprocess.PIPE,
        stdout=said,
        stderr=said,
        start_new_session=True,
        creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
    )


def _send(worker: subprocess.Popen[bytes], task: tuple[str, Case]) -> None:
    """Send a process its task; if it has died, its exit code shows that."""
    assert worker.stdin is not None
    try:
        worker.stdin.write(pickle.dumps(task))
        worker.stdin.flush()
    except BrokenPipeError:
        with contextlib.suppress(BrokenPipeError):
            worker.stdin.close()  # discards what it has not read
        worker.stdin = None


def work() -> None:
    """Work of a process: its task from standard input, which is open as long as the parent lives.

    Garbage collection is off: compiling creates much and frees little.
    """
    name, case = pickle.load(sys.stdin.buffer)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    gc.disable()
    REHEARSALS[name](case)
    if unkept:
        sys.exit(unkept[0])


def _end_with_parent() -> None:
    os.read(sys.stdin.fileno(), 1)
    os._exit(1)
