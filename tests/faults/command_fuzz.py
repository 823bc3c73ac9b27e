"""Thousands of spoilt inputs given to the commands, in one process, through the console script.

    PYTHONPATH=tests python tests/faults/command_fuzz.py FOLDER [COUNT] [SEED] [COMMAND ...]

COUNT inputs, 20000 by default, shared out over the commands as in INPUTS. An input is well when its
command ends with exit status 0, or with 1 or 2 and a message that begins with "sinkbowl: " or
typer's usage. An exception that comes through, or one that only the handler at the top caught, is a
failure: the input is kept in FOLDER/failed, and how it is called. Prints a line a command, and one
a kind of failure.

What costs time and is not at stake is cut: an estimate times two steps on a small grid, a film has
one process, differences are shared out with one point of the rule instead of four.
"""

import contextlib
import io
import random
import shutil
import signal
import sys
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from faults.command_inputs import TITLES, random_case, spoil_result
from faults.mutation import Hang, mutated
from sinkbowl.case.starter import shipped_cases
from sinkbowl.flow import layout
from sinkbowl.reduced.attribution import attribute
from sinkbowl.running import estimate
from sinkbowl_post.cli import main as sinkbowl

TABLES = (
    b"hole [mm],mass [g],time [s],outcome\n8,200,12.5,sinks\n20,200,2.5,sinks\n1,200,,plugged\n",
    b"hole [mm];time [s]\n20;2,1\n20;2,2\n18;2,9\n",
    b"t [s];draft [mm]\n0;25\n0,1;26\n0,2;27\n0,3;28\n0,4;29,5\n0,5;31\n",
    b"# a remark\nhole (mm)\ttime (min)\n8\t1,5\n9\t1.25\n",
)

LONGEST = 20.0  # processor time after which an input counts as a hang [s]

SHORT_ESTIMATE = {"MEASURE_FOR": 0.0, "LEAST_STEPS": 2}

MOST_CELLS = 40_000
"""Cells of a run that is estimated here; a user's may have a hundred times as many."""


@dataclass
class Place:
    """Where inputs lie, with good files to spoil."""

    folder: Path
    result: bytes
    index: bytes
    short: bytes

    @property
    def case(self) -> Path:
        return self.folder / "c.toml"

    @property
    def run(self) -> Path:
        return self.folder / "r.h5"

    @property
    def table(self) -> Path:
        return self.folder / "t.csv"


@dataclass
class Tally:
    """What became of the inputs."""

    ends: Counter[str] = field(default_factory=Counter)
    failures: Counter[str] = field(default_factory=Counter)
    slowest: float = 0.0
    seconds: float = 0.0


def prepared(folder: Path) -> Place:
    """Good files, made here: a result with frames, a short one, the index of a sweep."""
    from synthetic import write_result

    folder.mkdir(parents=True, exist_ok=True)
    (folder / "outlines").mkdir(exist_ok=True)
    for outline in (next(iter(shipped_cases().values())).parent / "outlines").iterdir():
        shutil.copy(outline, folder / "outlines")
    result = write_result(folder / "good.h5", frames=3, cells=(12, 16), steps=60).read_bytes()
    short = write_result(folder / "short.h5", frames=0, steps=3, status="running").read_bytes()
    for left in folder.glob("*.h5*"):
        left.unlink()
    return Place(folder, result, _index(folder), short)


def _index(folder: Path) -> bytes:
    """Index of a sweep of three runs, one of which is done, one waits and one failed."""
    from sinkbowl.case.case import load_case
    from sinkbowl.sweeps.index import INDEX
    from sinkbowl.sweeps.plan import plan_sweep
    from sinkbowl.sweeps.sweeping import TaskEnd, open_log

    place = folder / "index"
    place.mkdir(exist_ok=True)
    case = load_case(shipped_cases()["steel-cup"])
    plan = plan_sweep(case, {"hole.diameter": "10mm:30mm:3"}, 1, 1, 0)
    log = open_log(place, plan, {run.name: 1 for run in plan.runs}, None)
    log.end(plan.runs[0].name, TaskEnd("failed", "it was tired", 1.0))
    content = (place / INDEX).read_bytes()
    shutil.rmtree(place)
    return content


def write_case(rng: random.Random, place: Place) -> None:
    """A case: well formed with other values, or spoilt byte by byte."""
    content = random_case(rng)
    place.case.write_bytes(mutated(rng, content, (content,)) if rng.random() < 0.25 else content)


def write_run(rng: random.Random, place: Place) -> None:
    """A result, spoilt and sealed again; now and then spoilt without a seal."""
    place.run.write_bytes(place.short if rng.random() < 0.1 else place.result)
    spoil_result(rng, place.run)
    if rng.random() < 0.03:
        content = place.run.read_bytes()
        place.run.write_bytes(content[: rng.randrange(len(content))])


def write_table(rng: random.Random, place: Place) -> None:
    """A table of trials or a trace, spoilt or not."""
    content = rng.choice(TABLES)
    place.table.write_bytes(mutated(rng, content, TABLES) if rng.random() < 0.7 else content)


def heading(rng: random.Random) -> list[str]:
    """A heading for a slide, of one in three."""
    title = rng.choice(TITLES).replace("\\u0000", "\udcfc").replace("\\n", "\n")
    return ["--title", title] if rng.random() < 0.3 else []


def picture(rng: random.Random, name: str) -> str:
    return name + rng.choice((".png", ".svg", ".pdf"))


def check(rng: random.Random, place: Place) -> list[str]:
    write_case(rng, place)
    options: list[list[str]] = [[], ["--json"]]
    if rng.random() < 0.08:
        options = [["--uncertainty"], ["--plan"], ["--sheet", "s.pdf"]]
        options.append(["--figure", picture(rng, "f"), *heading(rng)])
    return ["check", "c.toml", *rng.choice(options)]


def run(rng: random.Random, place: Place) -> list[str]:
    write_case(rng, place)
    return ["run", "c.toml", "--estimate"]


def compare(rng: random.Random, place: Place) -> list[str]:
    write_run(rng, place)
    write_table(rng, place)
    options: list[list[str]] = [[], ["--json"], ["--measured", "t.csv"]]
    if rng.random() < 0.15:
        options = [["-o", picture(rng, "f"), *heading(rng)], ["--forces", "f.png"]]
    return ["compare", "r.h5", *rng.choice(options)]


def curves(rng: random.Random, place: Place) -> list[str]:
    if rng.random() < 0.5:
        write_run(rng, place)
        return ["curves", "r.h5", *(["-o", "f.png", *heading(rng)] if rng.random() < 0.3 else [])]
    (place.folder / "index.h5").write_bytes(place.index)
    spoil_result(rng, place.folder / "index.h5")
    return ["curves", "."]


def fit(rng: random.Random, place: Place) -> list[str]:
    if rng.random() < 0.3:
        write_case(rng, place)
    else:
        shutil.copy(shipped_cases()["steel-cup"], place.case)
    write_table(rng, place)
    options = ["-o", picture(rng, "f"), *heading(rng)] if rng.random() < 0.05 else []
    return ["fit", "c.toml", "--measured", "t.csv", *options]


def export(rng: random.Random, place: Place) -> list[str]:
    write_run(rng, place)
    name = rng.choice(("e.csv", "e.vtu", "e.xdmf"))
    more: list[list[str]] = [[], [], ["--frame", "0"], ["--time", "0.5 s"], ["--revolve", "3"]]
    return ["export", "r.h5", "-o", name, *rng.choice(more)]


def film(rng: random.Random, place: Place) -> list[str]:
    write_run(rng, place)
    options: list[list[str]] = [[], ["--tracers"], ["--half-cut"], ["--model", "heave"]]
    colour = ["--colour", rng.choice(("speed", "pressure", "vorticity", "none"))]
    asked = [*rng.choice(options), *colour, *heading(rng)]
    return ["film", "r.h5", "-o", "still.png", "--workers", "1", *asked]


def report(rng: random.Random, place: Place) -> list[str]:
    write_run(rng, place)
    return ["report", "r.h5", "-o", "page.html"]


INPUTS: dict[str, tuple[float, Callable[[random.Random, Place], list[str]]]] = {
    "check": (0.40, check),
    "run": (0.06, run),
    "compare": (0.06, compare),
    "curves": (0.03, curves),
    "fit": (0.06, fit),
    "export": (0.34, export),
    "film": (0.03, film),
    "report": (0.02, report),
}
"""Share of the inputs that a command gets, and what makes them."""


def outcome(arguments: Sequence[str]) -> tuple[str, str]:
    """How a command ended, "done", "refused" or "failed", and why it failed."""
    said = io.StringIO()
    signal.signal(signal.SIGPROF, _too_long)
    signal.setitimer(signal.ITIMER_PROF, LONGEST)
    try:
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            sinkbowl(arguments)
        return "failed", "no exit status"
    except SystemExit as end:
        told = said.getvalue()
        if "internal error" in told:
            return "failed", told.strip().splitlines()[-1].partition(" The details")[0]
        if end.code in (0, None):
            return "done", ""
        if end.code in (1, 2) and ("sinkbowl: " in told or "Usage: " in told):
            return "refused", ""
        return "failed", f"exit status {end.code}: {told[-200:]}"
    except Hang:
        return "failed", f"takes more than {LONGEST:g} s of processor time"
    except BaseException as error:
        where = traceback.extract_tb(error.__traceback__)
        ours = [frame for frame in where if "/sinkbowl" in frame.filename] or [*where]
        last = ours[-1]
        file = Path(last.filename).name
        return "failed", f"{type(error).__name__} in {file}:{last.lineno}: {error}"[:200]
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)


def _too_long(*_: object) -> None:
    raise Hang


def fuzz(folder: Path, count: int, seed: int, commands: Sequence[str] = ()) -> dict[str, Tally]:
    """Give each command its share of inputs; what failed is kept in the folder."""
    chosen = {name: INPUTS[name][0] for name in INPUTS if not commands or name in commands}
    whole, tallies = sum(chosen.values()), {}
    layout.MOST_CELLS, attribute.STAGES = MOST_CELLS, 1
    for name, value in SHORT_ESTIMATE.items():
        setattr(estimate, name, value)
    place = prepared(folder)
    with contextlib.chdir(folder), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name, share in chosen.items():
            rng = random.Random(f"{name} {seed}")
            tallies[name] = _one_command(rng, place, name, max(1, round(count * share / whole)))
    return tallies


def _one_command(rng: random.Random, place: Place, name: str, count: int) -> Tally:
    tally = Tally()
    for k in range(count):
        arguments = INPUTS[name][1](rng, place)
        begun = time.process_time()
        end, why = outcome(arguments)
        taken = time.process_time() - begun
        tally.slowest, tally.seconds = max(tally.slowest, taken), tally.seconds + taken
        tally.ends[end] += 1
        if end == "failed":
            tally.failures[why] += 1
            if tally.failures[why] == 1:
                _keep(place, f"{name}-{k}", arguments, why)
        if k % 100 == 99:
            so_far = (k + 1, f"{time.process_time():.0f} s", dict(tally.ends), dict(tally.failures))
            print(name, *so_far, file=sys.stderr, flush=True)
    return tally


def _keep(place: Place, name: str, arguments: Sequence[str], why: str) -> None:
    """Put the input of a failure aside."""
    kept = place.folder / "failed" / name
    shutil.copytree(place.folder, kept, ignore=shutil.ignore_patterns("failed"), dirs_exist_ok=True)
    (kept / "call.txt").write_text(f"{[*arguments]!r}\n{why}\n", encoding="utf-8")


def main(folder: Path, count: int = 20_000, seed: int = 1, *commands: str) -> int:
    """Fuzz and print; exit status 1 where anything failed."""
    failed = 0
    for name, tally in fuzz(folder, count, seed, commands).items():
        print(
            f"{name}: {dict(tally.ends)}, slowest {tally.slowest:.1f} s, all {tally.seconds:.0f} s"
        )
        for why, times in tally.failures.most_common():
            print(f"    {times} x {why}")
        failed += tally.ends["failed"]
    return 1 if failed else 0


if __name__ == "__main__":
    place, *numbers = sys.argv[1:]
    sys.exit(main(Path(place), *(int(n) for n in numbers[:2]), *numbers[2:]))
