"""Many runs, many commands, readers and kills at once: nothing is lost, nothing computed twice.

    PYTHONPATH=tests python tests/faults/loads.py FOLDER [RUNS] [KILLS] [SEED] [one grids many dask]

200 runs and 50 kills of each kind unless told otherwise. Prints a row of a table for each of the
shows; nothing must be wrong in any of them. test_load.py calls them with small numbers.
"""

import random
import subprocess
import sys
import time
from dataclasses import dataclass, field, replace
from pathlib import Path

from coarse_cups import FLOW
from console import started
from cups import cup_text
from faults import killed_runs
from faults.cluster import Cluster
from sinkbowl.files.result import read_result
from sinkbowl.sweeps.index import INDEX, SweepRun, read_sweep

HEAVY = cup_text(40, height=40, wall=10, base=10, density="8000 kg/m^3", more=FLOW)
"""A cup that is deep under after a hundred steps, half a second."""

MOST_WAIT = 3600.0  # wall time after which a sweep counts as stuck [s]


@dataclass
class Show:
    """What was done, how often, and what is wrong afterwards."""

    what: str
    counts: dict[str, int] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)

    @property
    def row(self) -> str:
        counts = ", ".join(f"{count} {name}" for name, count in self.counts.items())
        return f"| {self.what} | {counts} | {'; '.join(self.wrong) or 'nothing'} |"


def words(folder: Path, runs: int, name: str, *more: str) -> list[str]:
    """The command of a sweep over holes into a folder of a name."""
    case = folder / "cup.toml"
    case.write_text(HEAVY)
    over = ("--over", f"hole.diameter=36mm:44mm:{runs}", "-o", str(folder / name), "--json")
    return started("sweep", case, *over, *more)


def start(command: list[str]) -> subprocess.Popen[str]:
    """Nobody reads what it prints: 200 rows would fill a pipe, and it would wait for ever."""
    return subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, process_group=0
    )


class Watch:
    """A reader of a sweep's folder, who looks at what has come since the last look."""

    def __init__(self, folder: Path, wrong: list[str]) -> None:
        self._folder, self._wrong = folder, wrong
        self.finished: dict[str, int] = {}
        self._told = 0

    def look(self) -> int:
        """Number of results that are finished now; each is whole, and is never written again."""
        found = self._folder.glob("[!.]*.h5") if self._folder.exists() else ()
        written = {path.name: path.stat().st_mtime_ns for path in found if path.name != INDEX}
        for name, when in self.finished.items():
            if written.get(name) != when:
                self._wrong.append(f"{name} was lost or written again")
        for name in written.keys() - self.finished.keys():
            if read_result(self._folder / name).status == "finished":
                self.finished[name] = written[name]
        if (self._folder / INDEX).exists():
            told = len(read_sweep(self._folder).with_status("finished"))
            if told < self._told:
                self._wrong.append(f"the index tells of {told} runs after {self._told}")
            self._told = told
        return len(self.finished)


def index_of(folder: Path) -> tuple[SweepRun, ...]:
    """What the index tells of the runs, but for how long they took."""
    return tuple(replace(run, wall_seconds=None, losses=0) for run in read_sweep(folder).runs)


def end_state(folder: Path, runs: int, reference: Path | None = None) -> list[str]:
    """What is wrong with a sweep that is through, beside the same one without a break."""
    index = index_of(folder)
    wrong = [f"{run.name} is {run.status}" for run in index if run.status != "finished"]
    files = {run.file for run in index}
    if len(files) != runs:
        wrong.append(f"{len(files)} results of {runs} runs")
    strange = {path.name for path in folder.iterdir()} ^ (files | {INDEX, ".lock"})
    wrong += [f"{name} lies about or is missing" for name in sorted(strange)]
    if reference:
        if index != index_of(reference):
            wrong.append("the index is another")
        for name in sorted(files):
            other = killed_runs.differences(folder / name, reference / name)
            wrong += [f"{name} differs in {', '.join(other)}"] if other else []
    return wrong


def many_runs(folder: Path, runs: int) -> Show:
    """A sweep, while somebody reads its folder all the time and three others ask for the same."""
    show = Show("a sweep, the same command three times more, a reader")
    command = words(folder, runs, "whole", "--workers", "2")
    whole, reads = folder / "whole", 0
    first = start(command)
    while not (whole / INDEX).exists():
        if first.poll() is not None:
            return replace(show, wrong=[first.communicate()[1]])
        time.sleep(0.05)
    others = [start(command) for _ in range(3)]
    watch = Watch(whole, show.wrong)
    while first.poll() is None:
        watch.look()
        reads += 1
        time.sleep(0.1)
    for sitting in (first, *others):
        _, errors = sitting.communicate(timeout=MOST_WAIT)
        refused = sitting.returncode == 2 and "another sweep is running there" in errors
        # One that came late, after the first was through, finds nothing to do.
        if sitting.returncode and (sitting is first or not refused):
            show.wrong.append(errors)
    watch.look()
    show.wrong += end_state(whole, runs)
    show.counts = {"runs": runs, "looks at all of the folder": reads}
    return show


def cluster_killed(folder: Path, runs: int, kills: int, seed: int) -> Show:
    """A sweep on dask: workers are killed and replaced, three kills in ten are the scheduler's."""
    show = Show("a sweep on dask; workers and schedulers killed")
    rng, begun = random.Random(seed), time.monotonic()
    counts = dict.fromkeys(("kills of workers", "kills of schedulers", "kills between two runs"), 0)
    command, watch = words(folder, runs, "holes"), Watch(folder / "holes", show.wrong)
    with Cluster(folder / "dask") as cluster:
        sitting = start([*command, "--cluster", cluster.address])
        try:
            for _ in range(kills):
                before = watch.look()
                wanted, until = before + rng.choice((0, 1, 1, 2)), time.monotonic() + 60.0
                while watch.look() < wanted and time.monotonic() < until:
                    time.sleep(0.05)
                time.sleep(rng.uniform(0.0, 1.0))
                if rng.random() < 0.3:
                    cluster.scheduler.kill()
                    lines = sitting.communicate(timeout=MOST_WAIT)[1].splitlines()
                    known = ("sweep, ", "sinkbowl: ")
                    show.wrong += [line for line in lines if not line.startswith(known)]
                    cluster.begin()
                    counts["kills of schedulers"] += 1
                else:
                    cluster.replace_worker(rng.randrange(2))
                    counts["kills of workers"] += 1
                counts["kills between two runs"] += runs > watch.look() > before > 0
                if sitting.poll() is not None:
                    sitting.communicate()
                    sitting = start([*command, "--cluster", cluster.address])
                print(counts, len(watch.finished), file=sys.stderr, flush=True)
                if time.monotonic() - begun > MOST_WAIT:
                    show.wrong.append("is stuck")
                    break
            sitting.communicate(timeout=MOST_WAIT)
            watch.look()
        finally:
            sitting.kill()
            sitting.communicate()
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode:
        show.wrong.append(done.stderr)
    watch.look()
    show.wrong += end_state(folder / "holes", runs, folder / "whole")
    show.counts = {"runs": runs, **counts}
    return show


def run_killed(folder: Path, kills: int, seed: int, grids: int) -> Show:
    """A run, on one grid or several, that is killed and gone on with until it ends."""
    told = killed_runs.kill(folder, kills, seed, grids)
    what = f"a run on {grids} grids, killed" if grids > 1 else "a run on one grid, killed"
    counts = {"kills": told["kills"], "before the first result": told["early"]}
    return Show(what, {**counts, "ends": told["ends"]}, told["wrong"])


def main(folder: Path, runs: int = 200, kills: int = 50, seed: int = 1, *names: str) -> None:
    """Print the table; the sweep on dask is compared with the one of "many"."""
    shows = {
        "one": lambda: run_killed(folder / "one", kills, seed, 1),
        "grids": lambda: run_killed(folder / "grids", kills, seed, 3),
        "many": lambda: many_runs(folder / "sweeps", runs),
        "dask": lambda: cluster_killed(folder / "sweeps", runs, kills, seed),
    }
    for name in ("sweeps", "one", "grids"):
        (folder / name).mkdir(parents=True, exist_ok=True)
    print("| what | how often | wrong |\n| --- | --- | --- |")
    for name in names or shows:
        print(shows[name]().row, flush=True)


if __name__ == "__main__":
    place, *numbers = sys.argv[1:]
    main(Path(place), *(int(number) for number in numbers[:3]), *numbers[3:])
