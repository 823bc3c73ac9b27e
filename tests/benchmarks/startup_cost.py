"""How long the package takes to answer: help, import, a check, the first run ever.

    python tests/benchmarks/startup_cost.py [repeats]

Prints wall and processor time of each command, the least of some repeats, and the imports that
`sinkbowl check` waits for longest. Then, once each, the first steps of a run with an empty cache of
kernels, compiled by two processes and on one core by one, and with the cache they leave.
"""

import os
import re
import subprocess
import sys
from resource import RUSAGE_CHILDREN, getrusage
from tempfile import TemporaryDirectory
from time import perf_counter

from sinkbowl.case.starter import shipped_case

MAIN = "from sinkbowl_post.cli import main; main({})"
COMMANDS = {
    "python alone": "pass",
    "import sinkbowl": "import sinkbowl",
    "sinkbowl --help": MAIN.format(["--help"]),
    "sinkbowl check --help": MAIN.format(["check", "--help"]),
    "sinkbowl check": MAIN.format(["check", str(shipped_case("steel-cup"))]),
    "sinkbowl size": MAIN.format(["size", str(shipped_case("brass-cap")), "--time", "20 s"]),
    "sinkbowl check --uncertainty": MAIN.format(
        ["check", str(shipped_case("brass-cap")), "--uncertainty"]
    ),
    "sinkbowl check --json": MAIN.format(["check", str(shipped_case("steel-cup")), "--json"]),
}

STEPS = """
from dataclasses import replace
from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.running.runner import run
def stop(now):
    raise KeyboardInterrupt
case = load_case(shipped_case("steel-cup"))
run(replace(case, flow=replace(case.flow, cell=4e-3)), {path!r}, overwrite=True, progress=stop)
"""
ONE_CORE = "import os; os.sched_setaffinity(0, [min(os.sched_getaffinity(0))])\n"


def first_runs() -> None:
    """Costs of the first steps of a run, with kernels to compile and without."""
    for how, before in (("two processes", ""), ("one core", ONE_CORE)):
        with TemporaryDirectory() as place:
            os.environ["NUMBA_CACHE_DIR"] = place
            steps = before + STEPS.format(path=f"{place}/run.h5")
            for name in (f"first run, {how}", "the same again"):
                wall, used = cost(steps)
                print(f"{name:24}{wall:8.2f}{used:8.2f}", flush=True)


def cost(script: str) -> tuple[float, float]:
    """Wall and processor time of a fresh interpreter [s]."""
    before, begin = getrusage(RUSAGE_CHILDREN), perf_counter()
    subprocess.run([sys.executable, "-c", script], stdout=subprocess.DEVNULL, check=True)
    after = getrusage(RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return perf_counter() - begin, used


def main(repeats: int) -> None:
    """Print the table."""
    print(f"{'':24}{'wall s':>8}{'cpu s':>8}    load {os.getloadavg()[0]:.1f}")
    for name, script in COMMANDS.items():
        costs = [cost(script) for _ in range(repeats + 1)][1:]
        wall, used = (min(column) for column in zip(*costs, strict=True))
        print(f"{name:24}{wall:8.2f}{used:8.2f}")
    first_runs()
    timed = [sys.executable, "-X", "importtime", "-c", COMMANDS["sinkbowl check"]]
    told = subprocess.run(timed, capture_output=True, text=True, check=True).stderr
    rows = re.findall(r"import time:\s+(\d+) \|\s+(\d+) \| ( *)(\S+)", told)
    longest = sorted(rows, key=lambda row: -int(row[1]))[:25]
    print("\nimports of sinkbowl check, milliseconds with all that they import in turn")
    for _, total, _, name in longest:
        print(f"{int(total) / 1e3:10.0f}  {name}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
