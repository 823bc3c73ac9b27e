"""The kernels compiled by processes side by side: a whole cache, or a plain run with a warning."""

import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

import sinkbowl
from coarse_cups import STEEL, case_of
from sinkbowl.common.errors import CaseError
from sinkbowl.running import compiling
from sinkbowl.running.process_pool import cores

COLD = """
import json, sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from coarse_cups import STEEL, case_of
from numba.core import event
from sinkbowl.flow.kernels import CACHE
from sinkbowl.running.runner import run
compiled = []

class Listener(event.Listener):
    def on_start(self, happening):
        compiled.append(str(happening.data["dispatcher"]))
    def on_end(self, happening):
        pass

event.register("numba:compile", Listener())
def stop(now):
    raise KeyboardInterrupt
run(case_of(STEEL), Path(sys.argv[1]), overwrite=True, progress=stop)
print(json.dumps({"here": compiled, "kept": len(list(CACHE.rglob("*.nbi")))}))
"""


@pytest.fixture
def cold(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty cache, and two cores whatever the machine has."""
    monkeypatch.setattr(compiling, "CACHE", tmp_path / "cache")
    monkeypatch.setattr(compiling, "cores", lambda: 2)
    return tmp_path / "cache"


def dying(signal_or_code: int) -> list[str]:
    """Command of a process that ends at once, by a signal where the number is negative."""
    end = f"os._exit({signal_or_code})"
    if signal_or_code < 0:
        end = f"os.kill(os.getpid(), {-signal_or_code})"
    return [sys.executable, "-c", f"import os; {end}"]


@pytest.mark.slow
@pytest.mark.skipif(cores() < 2, reason="kernels are compiled side by side on two cores")
def test_nothing_is_left_to_compile_after_the_two_processes(tmp_path):
    """Stated tolerance: none. A kernel in neither half would be compiled by the run itself. The
    third time from a copy of the package: numba takes nothing from the cache that was compiled from
    another place."""
    here = Path(sinkbowl.__file__).parent
    elsewhere = shutil.copytree(here, tmp_path / "elsewhere" / "sinkbowl").parent
    command = [sys.executable, "-c", COLD, tmp_path / "run.h5", Path(__file__).parents[1]]
    for place in (here.parent, here.parent, elsewhere):
        environment = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path), "PYTHONPATH": str(place)}
        done = subprocess.run(command, capture_output=True, text=True, env=environment)
        assert done.returncode == 0, done.stderr
        assert done.stderr == ""
        told = json.loads(done.stdout)
        assert told["here"] == []
        assert told["kept"] > 25
    assert len(list(tmp_path.glob("kernels/*/whole-*"))) == 2


@pytest.mark.parametrize("end", [1, -9])
def test_processes_that_fail_leave_the_work_to_the_run(cold, monkeypatch, end):
    def start(said: object) -> subprocess.Popen[bytes]:
        return subprocess.Popen(dying(end), stdin=subprocess.PIPE)

    monkeypatch.setattr(compiling, "_start", start)
    with pytest.warns(RuntimeWarning, match=rf"Parallel compilation.*\[{end}, {end}, {end}\]"):
        compiling.compile_side_by_side(case_of(STEEL))
    assert not (cold / compiling.WHOLE).exists()


@pytest.mark.slow
def test_the_reason_of_a_failure_is_told(cold, monkeypatch):
    monkeypatch.setattr(compiling, "REHEARSALS", {"no such part": None})
    with pytest.warns(RuntimeWarning, match="KeyError: 'no such part'"):
        compiling.compile_side_by_side(case_of(STEEL))
    assert not (cold / compiling.WHOLE).exists()


def test_a_filled_cache_starts_no_process(cold, monkeypatch):
    cold.mkdir()
    (cold / compiling.WHOLE).touch()
    monkeypatch.delattr(compiling, "_start")
    compiling.compile_side_by_side(case_of(STEEL))


def test_a_cache_that_cannot_be_written_starts_no_process(cold, monkeypatch):
    cold.write_text("a file where the folder should be")
    monkeypatch.delattr(compiling, "_start")
    compiling.compile_side_by_side(case_of(STEEL))


def test_a_case_that_cannot_be_computed_is_refused_before_any_process(cold, monkeypatch):
    monkeypatch.delattr(compiling, "_start")
    with pytest.raises(CaseError, match="too shallow"):
        compiling.compile_side_by_side(case_of(STEEL + 'tub_depth = "60 mm"\n'))
    assert not cold.exists()


PARENT = """
import sys, time
sys.path.insert(0, sys.argv[1])
from coarse_cups import STEEL, case_of
from sinkbowl.running.compiling import _send, _start
worker = _start(sys.stderr)
_send(worker, ("surface", case_of(STEEL)))
print(worker.pid, flush=True)
time.sleep(60.0)
"""


@pytest.mark.slow
def test_a_process_ends_with_its_parent(tmp_path):
    """Killed at once: compiling its half would take the child several seconds longer."""
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)}
    command = [sys.executable, "-c", PARENT, Path(__file__).parents[1]]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=environment
    ) as parent:
        child = int(parent.stdout.readline())
        time.sleep(1.0)
        parent.kill()
    deadline = time.monotonic() + 5.0
    while alive(child) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not alive(child)
    assert not list(tmp_path.glob(f"kernels/*/{compiling.WHOLE}"))


def alive(process: int) -> bool:
    """Whether a process runs; one that nobody has waited for yet does not."""
    try:
        return Path(f"/proc/{process}/stat").read_text().split(")")[-1].split()[0] != "Z"
    except OSError:
        return False
