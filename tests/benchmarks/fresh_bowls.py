"""How well best times hold on bowls drawn anew, which no fit has seen.

    python tests/benchmarks/fresh_bowls.py tests/benchmarks/mapping/fresh
    python tests/benchmarks/fresh_bowls.py FOLDER --whole 200

Draws the bowls (uniform in d/D and in the logarithms of the other numbers, generator and seed of
numpy), computes three releases of each with the flow solver where the folder's releases.csv does
not hold them yet, and prints a table by the width of the hole. Left out and counted: bowls that do
not sink by themselves, and those whose run takes longer than `MOST_SECONDS`. The hole's law is that
of the flow on both sides, and closed-off air and symmetry are as in the flow: so of the interval
only what is not known of theory, map and grid counts.

With `--whole`, so many other bowls are run by the command, to the end: each should finish.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import as_completed
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path
from typing import NamedTuple

import numpy as np

from mapping.design import between, four_digits
from mapping.releases import compute, missing, read
from sinkbowl.common.errors import SinkbowlError
from sinkbowl.corrected.flow_map import MapBowl
from sinkbowl.corrected.model import best_time
from sinkbowl.design.budget.variation import meniscus_aside
from sinkbowl.design.checking import verdict
from sinkbowl.reduced import MODELS
from sinkbowl.running.forecast import SECONDS_A_CELL, forecast
from sinkbowl.running.process_pool import ProcessPool, cores
from sinkbowl.scatter.interval import hole_ratio
from sinkbowl.verification.flow_map import as_the_flow_sees_it
from sinkbowl_post.cli import main as command

BOWLS, MEMBERS, SEED = 60, 3, 20261201
MOST_SECONDS = 25.0
RATIO = 0.03, 0.9
RADIUS, HEIGHT, WALL = (25.0, 90.0), (0.4, 1.6), (0.015, 0.08)
DENSITY = 1250.0, 8900.0
BINS = ((0.0, 0.25), (0.25, 0.6), (0.6, 1.0), (0.0, 1.0))
COUNTED = ("theory and map", "theory", "grid", "near stall")


def drawn(count: int = BOWLS, seed: int = SEED) -> tuple[list[MapBowl], Counter[str]]:
    """The bowls, and how many were left out for what."""
    rng, bowls, left_out = np.random.default_rng(seed), [], Counter[str]()
    while len(bowls) < count:
        bowl = _bowl(rng)
        reason = _reason(bowl)
        if reason:
            left_out[reason] += 1
        else:
            bowls.append(bowl)
    return bowls, left_out


def _bowl(rng: np.random.Generator) -> MapBowl:
    shape = str(rng.choice(("cup", "cone", "cap")))
    radius, ratio = between(RADIUS, rng.random()), float(rng.uniform(*RATIO))
    wall = radius * between(WALL, rng.random())
    height = radius * min(between(HEIGHT, rng.random()), 1.0 if shape == "cap" else HEIGHT[1])
    hole = 2.0 * ratio * (radius - wall)
    least = min(0.5 * hole + wall + 1.0, radius)
    base = radius if shape == "cup" else float(rng.uniform(least, radius))
    base_wall = 0.0 if shape == "cap" else wall
    lengths = (radius, height, wall, 0.0 if shape == "cap" else base, base_wall, hole)
    kind = "cap" if shape == "cap" else "cone"
    bowl = MapBowl(kind, *(four_digits(size) for size in lengths), 1.0)
    density = between(DENSITY, rng.random())
    try:
        volume = bowl.case().bowl.solid_volume
    except SinkbowlError:
        return bowl
    return MapBowl(**{**bowl.__dict__, "mass": four_digits(1e3 * density * volume)})


def _reason(bowl: MapBowl) -> str:
    try:
        case = bowl.case()
        if verdict(case) not in ("sinks", "tips"):
            return verdict(case)
        long = forecast(case).cell_steps * SECONDS_A_CELL > MOST_SECONDS
        return "takes too long to compute" if long else ""
    except SinkbowlError:
        return "cannot be made"


class Judged(NamedTuple):
    """A bowl: d/D, mean time by the flow [s], and shares: best time off it, half-width, models."""

    bowl: MapBowl
    ratio: float
    flow: float
    off: float
    half: float
    heave: float
    quasi_static: float


def judged(bowl: MapBowl, times: Sequence[float]) -> Judged | None:
    """A bowl with its times by the flow solver [s]; None where there is no best time."""
    case = meniscus_aside(as_the_flow_sees_it(bowl.case()))
    best, flow = best_time(case), float(np.mean(times))
    if best is None:
        return None
    half = float(np.hypot.reduce([best.parts.get(name, 0.0) for name in COUNTED]))
    models = (MODELS[name](case).sinking_time or np.nan for name in ("heave", "quasi-static"))
    off = (time / flow - 1.0 for time in models)
    return Judged(bowl, hole_ratio(case), flow, best.time / flow - 1.0, half, *off)


def main(folder: Path) -> None:
    """Compute what is missing and print the table."""
    folder.mkdir(parents=True, exist_ok=True)
    table = folder / "releases.csv"
    bowls, left_out = drawn()
    print(f"seed {SEED}; left out: {dict(left_out)}")
    wanted = [(bowl, member) for member in range(MEMBERS) for bowl in bowls]
    compute(table, missing(table, wanted))
    rows = []
    for bowl in bowls:
        lines = [line for line in read(table) if line["bowl"] == bowl.name]
        failed = [line["trouble"] for line in lines if line["trouble"]]
        row = None if failed else judged(bowl, [float(line["rim [s]"]) for line in lines])
        if row is None:
            print(f"{bowl.name}: {failed[0] if failed else 'not answered'}")
            continue
        rows.append(row)
        print(f"| {bowl.name} | {row.flow:.4g} s | {row.off:+.1%} ± {row.half:.1%} |")
    _print(np.array([row[1:] for row in rows]))


def _print(rows: np.ndarray) -> None:
    print("| d/D | bowls | best off | within 5 % | inside, half-width | heave | quasi-static |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for low, high in BINS:
        here = rows[(rows[:, 0] >= low) & (rows[:, 0] < high)]
        off = np.abs(here[:, [2, 4, 5]])
        middle = [f"{np.nanmedian(one):.1%} / {np.nanquantile(one, 0.9):.1%}" for one in off.T]
        inside = f"{np.mean(off[:, 0] <= here[:, 3]):.0%}, {np.median(here[:, 3]):.1%}"
        within = f"{np.mean(off[:, 0] <= 0.05):.0%}"
        cells = (f"{low:g} to {high:g}", str(len(here)), middle[0], within, inside, *middle[1:])
        print(f"| {' | '.join(cells)} |")


def whole_runs(folder: Path, count: int) -> None:
    """Run other bowls to the end by the command; print its exit status and what it says."""
    folder.mkdir(parents=True, exist_ok=True)
    bowls, left_out = drawn(count, SEED + 1)
    print(f"seed {SEED + 1}; left out: {dict(left_out)}")
    ended = Counter[int]()
    with ProcessPool(cores()) as pool:
        jobs = {pool.submit(_whole, folder, n, bowl): bowl for n, bowl in enumerate(bowls)}
        for job in as_completed(jobs):
            status, text = job.result()
            ended[status] += 1
            if status:
                print(f"{jobs[job].name}: exit status {status}\n{text}", flush=True)
    print(f"exit status: {dict(ended)}")


def _whole(folder: Path, n: int, bowl: MapBowl) -> tuple[int, str]:
    """Exit status of ``sinkbowl run`` of a bowl, and what it writes to stderr."""
    case, said = folder / f"{n}.toml", StringIO()
    case.write_text(bowl.text, encoding="utf-8")
    with redirect_stdout(StringIO()), redirect_stderr(said):
        try:
            command(["run", str(case), "-o", str(case.with_suffix(".h5")), "--overwrite"])
            status = 0
        except SystemExit as stop:
            status = int(stop.code or 0)
    if status == 0:
        case.with_suffix(".h5").unlink()
        case.unlink()
    return status, said.getvalue()


if __name__ == "__main__":
    if sys.argv[2:3] == ["--whole"]:
        whole_runs(Path(sys.argv[1]), int(sys.argv[3]))
    else:
        main(Path(sys.argv[1]))
