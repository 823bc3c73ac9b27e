"""What a film costs, drawn by one process and by two.

    python tests/benchmarks/film_cost.py [RESULT ...]

Prints a table: seconds that the film lasts, seconds to make it with one and with two processes, the
ratio of the two, and the processor time of each. Without a result the shipped cup with the wide
hole is run first, in cells of 1.5 mm; of several results the first is filmed, and all of them side
by side. The ratio says something only where two cores are free, as the load tells.
"""

import os
import sys
from dataclasses import replace
from pathlib import Path
from resource import RUSAGE_CHILDREN, RUSAGE_SELF, getrusage
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import Any

from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.files.result import Result, read_result
from sinkbowl.running.runner import run
from sinkbowl_post.filming.film import LAST_FRAME_HOLDS, film
from sinkbowl_post.filming.script import FRAMES_PER_SECOND, FilmOptions, script_of

KINDS: dict[str, dict[str, Any]] = {
    "plain": {},
    "tracers, heave": {"tracers": True, "model": "heave"},
    "half-cut": {"half_cut": True},
}


def coarse_run(folder: Path) -> Path:
    """The result of a quick run."""
    case = load_case(shipped_case("steel-cup-wide-hole"))
    path = folder / "run.h5"
    run(replace(case, flow=replace(case.flow, cell=1.5e-3)), path)
    return path


def cost(
    results: list[Result], path: Path, wishes: dict[str, Any], workers: int
) -> tuple[float, float]:
    """Wall time and processor time of a film [s], all its processes together."""
    before, begin = used(), perf_counter()
    film(results, path, **wishes, workers=workers)
    return perf_counter() - begin, used() - before


def used() -> float:
    """Processor time of this process and its ended children [s]."""
    both = (getrusage(RUSAGE_SELF), getrusage(RUSAGE_CHILDREN))
    return sum(usage.ru_utime + usage.ru_stime for usage in both)


def main(paths: list[Path], folder: Path) -> None:
    """Print the table."""
    results = [read_result(path) for path in paths or [coarse_run(folder)]]
    films = [(kind, results[:1], wishes) for kind, wishes in KINDS.items()]
    if len(results) > 1:
        films.append((f"{len(results)} side by side", results, {}))
    print(f"{'':27}{'wall s':>16}{'':8}{'cpu s':>16}    load {os.getloadavg()[0]:.1f}")
    print(f"{'film':18}{'lasts s':>9}{'one':>8}{'two':>8}{'ratio':>8}{'one':>8}{'two':>8}")
    for kind, shown, wishes in films:
        lasts = len(script_of(shown, FilmOptions()).clock) / FRAMES_PER_SECOND + LAST_FRAME_HOLDS
        costs = [cost(shown, folder / "film.mp4", wishes, workers) for workers in (1, 2)]
        (one, cpu_one), (two, cpu_two) = costs
        print(f"{kind:18}{lasts:9.1f}{one:8.1f}{two:8.1f}{one / two:8.2f}", end="")
        print(f"{cpu_one:8.1f}{cpu_two:8.1f}", flush=True)


if __name__ == "__main__":
    with TemporaryDirectory() as place:
        main([Path(word) for word in sys.argv[1:]], Path(place))
