"""What closed-off air does to sinking times: the same releases with air kept and as a void.

    PYTHONPATH=tests python tests/benchmarks/air_kept.py [MEMBERS | cost]

Shipped bowls with sharp holes, set down at rest, on the quick grid, to the rim; a row a bowl, means
of three members or as many as asked for. cost: of a step, kept over void, their steps in turns.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from time import thread_time

import h5py
import numpy as np

from sinkbowl.case.case import Case, load_case, parse_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.flow.simulation import initialise
from sinkbowl.running.numerical_checks import guarded_step, next_step
from sinkbowl.running.runner import Progress, run
from sinkbowl.scatter import drawn

BOWLS = (
    *(("steel-cup", hole) for hole in (30, 40, 50, 60, 70)),
    ("beech-dish-brass-ring", 40),
    ("brass-cap", 50),
    *(("lily-bowl", hole) for hole in (30, 40)),
)


def resolved(name: str, hole: float, air: str) -> Case:
    """A shipped bowl with a sharp, resolved hole [mm], set down at rest."""
    path = Path(str(shipped_case(name)))
    text = load_case(path).with_hole(1e-3 * hole).text
    text = re.sub(r"(?m)^(push|drop_height)\s*=.*\n", "", text)
    text = re.sub(r"(?m)^kind\s*=.*$", 'kind = "set down"', text)
    text = re.sub(r"(?m)^edge\s*=.*$", 'edge = "sharp"', text)
    keys = f'[flow]\nhole = "resolved"\nair = "{air}"\n'
    text = text.replace("[flow]\n", keys) if "[flow]\n" in text else f"{text}\n{keys}"
    return parse_case(text, path.parent, path.name)


def time_of(case: Case, member: int, folder: Path) -> tuple[float, float]:
    """Rim under [s] and the most air that was closed off [m^3]; the run ends there."""

    def end(progress: Progress) -> None:
        if progress.draft > case.bowl.rim_height + 1e-3:
            raise KeyboardInterrupt

    path = folder / "run.h5"
    run(case, path, overwrite=True, disturbance=drawn(0, member), progress=end)
    with h5py.File(path) as file:
        events = dict(zip(file["events/name"].asstr()[:], file["events/t"][:], strict=True))
        return float(events["rim_under"]), float(file["history/pocket_volume"][:].max())


def main(members: int = 3) -> None:
    """Print the table."""
    print("| bowl | hole | kept [s] | void [s] | kept / void | closed off |")
    print("| --- | --- | --- | --- | --- | --- |")
    with TemporaryDirectory() as folder:
        for name, hole in BOWLS:
            found = {}
            for air in ("kept", "void"):
                case = resolved(name, hole, air)
                found[air] = np.array([time_of(case, m, Path(folder)) for m in range(members)])
            kept, void = (found[air][:, 0] for air in ("kept", "void"))
            told = [f"{t.mean():.4f} ± {t.std(ddof=1):.4f}" for t in (kept, void)]
            change = kept.mean() / void.mean() - 1.0
            most = 1e6 * found["kept"][:, 1].max()
            row = (name, f"{hole} mm", *told, f"{change:+.1%}", f"{most:.0f} ml")
            print(f"| {' | '.join(row)} |", flush=True)


def cost() -> None:
    """Print the cost of a step with air kept, over that with a void."""
    for hole in (40, 60):
        sims = [initialise(resolved("steel-cup", hole, air)) for air in ("kept", "void")]
        seconds: list[list[float]] = [[], []]
        iterations = [0, 0]
        while all(sim.draft < sim.case.bowl.rim_height for sim in sims):
            for k in (0, 1) if len(seconds[0]) % 2 else (1, 0):
                begun = thread_time()
                report = guarded_step(sims[k], sims[k].body(), next_step(sims[k]))
                seconds[k].append(thread_time() - begun)
                iterations[k] += report.iterations
        kept, void = (np.median(one) for one in seconds)
        steps = [f"{n / len(seconds[0]):.1f}" for n in iterations]
        print(f"| {hole} mm | {kept / void:.2f} | {', '.join(steps)} |")


if __name__ == "__main__":
    if sys.argv[1:] == ["cost"]:
        cost()
    else:
        main(*(int(argument) for argument in sys.argv[1:]))
