"""What the numbers in the flow solver do to a sinking time: each halved and doubled.

    python tests/benchmarks/number_halved_doubled.py [NAME ...]

Prints a table: the sinking times of some coarse runs with the number at half and at twice its
value, against the time with the value itself. The package is copied to a folder for that and the
number changed in its file; kernels are compiled anew where they hold the number, some minutes in
all. Whole numbers are rounded up.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import sinkbowl
from sinkbowl.case.starter import shipped_case

NUMBERS = {
    "AIR_LAYERS": "step.py",
    "DROP": "step.py",
    "VOID_TIME_STEPS": "step.py",
    "PASSES": "step.py",
    "TOLERANCE": "poisson.py",
    "LEAST_THETA": "kernels/pressure.py",
    "TRACE": "kernels/interface.py",
    "DAMPING": "kernels/multigrid.py",
    "LEAST_OPEN": "grid/solid.py",
    "SPARE": "grid.py",
    "MERGED": "layout.py",
    "BESIDE": "layout.py",
    "BELOW": "layout.py",
    "AROUND_EDGE": "layout.py",
    "LEAST_REACH": "effects/orifice_model.py",
}
"""Names, and the files in `flow/` that hold them."""

CASES = (
    ("cup, 60 mm", "steel-cup", 60.0, {"cell": 2e-3, "base_cell": 2e-3}),
    ("cup, 40 mm", "steel-cup", 40.0, {"cell": 2e-3, "base_cell": 1e-3}),
    ("lily, 40 mm", "lily-bowl", 40.0, {"cell": 2e-3, "base_cell": 2e-3}),
    ("cup, 20 mm closed", "steel-cup", 20.0, {"cell": 2.5e-3, "hole": "closed"}),
)
"""Name, shipped case, hole [mm] and choices of [flow]: straight walls, oblique ones, and a law."""

SCRIPT = """
import json, sys
from dataclasses import replace
from sinkbowl import load_case, run
from sinkbowl.common.errors import SinkbowlError
from sinkbowl.case.starter import shipped_case
for _, name, hole, options in json.loads(sys.argv[1]):
    case = load_case(shipped_case(name)).with_hole(1e-3 * hole)
    case = replace(case, flow=replace(case.flow, **options))
    try:
        result = run(case, "run.h5", overwrite=True)
        told = [result.sinking_time, result.interval.scatter]
    except SinkbowlError as error:
        told = str(error)
    print(json.dumps(told), flush=True)
"""


def main(names: list[str]) -> None:
    """Print the table, a line a number."""
    with TemporaryDirectory() as folder:
        home = Path(folder)
        shutil.copytree(Path(sinkbowl.__file__).parent, home / "sinkbowl")
        shutil.copytree(
            shipped_case("steel-cup").parent, home / "sinkbowl" / "cases", dirs_exist_ok=True
        )
        base = times(home)
        print("| number | value | tried | " + " | ".join(case[0] for case in CASES) + " |")
        print("| --- " * (3 + len(CASES)) + "|")
        print("| none | | | " + " | ".join(told(time) for time in base) + " |", flush=True)
        for name in names or NUMBERS:
            path = home / "sinkbowl" / "flow" / NUMBERS[name]
            text = path.read_text()
            for factor in (0.5, 2.0):
                value, other = changed(text, name, factor)
                path.write_text(other)
                shown = (compared(time, at) for time, at in zip(times(home), base, strict=True))
                tried = "half" if factor < 1.0 else "twice"
                print(f"| `{name}` | {value} | {tried} | " + " | ".join(shown) + " |", flush=True)
            path.write_text(text)


def changed(text: str, name: str, factor: float) -> tuple[str, str]:
    """A number's value, and the text with it times a factor."""
    found = re.search(rf"^{name} = (\S+)$", text, re.MULTILINE)
    assert found is not None, name
    value = found[1]
    other = factor * float(value)
    new = str(-int(-other // 1)) if value.isdigit() else repr(other)
    return value, text[: found.start(1)] + new + text[found.end(1) :]


def times(home: Path) -> list[list[float] | str]:
    """What the copy in a folder says of each case: time and half-width of draws [s], or why not."""
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, json.dumps(CASES)],
        env=os.environ | {"PYTHONPATH": str(home), "NUMBA_CACHE_DIR": str(home / "cache")},
        cwd=home,
        capture_output=True,
        text=True,
        check=True,
    )
    return [json.loads(line) for line in done.stdout.splitlines()]


def told(time: list[float] | str) -> str:
    """A time and how far repeat runs scatter."""
    if isinstance(time, str):
        return time
    return f"{time[0]:.4f} s; draws within {100.0 * time[1] / time[0]:.1f} %"


def compared(time: list[float] | str, base: list[float] | str) -> str:
    """Change of a time, in per cent; why a run stops is told aside."""
    if isinstance(time, str) or isinstance(base, str):
        print(time, file=sys.stderr)
        return "stops"
    if time[0] == base[0]:
        return "the same"
    return f"{100.0 * (time[0] / base[0] - 1.0):+.2g} %"


if __name__ == "__main__":
    main(sys.argv[1:])
