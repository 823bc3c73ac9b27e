"""What grids and releases do to sinking times: tables of MEASURED.md and repeat_runs.csv.

    python tests/benchmarks/grids_and_releases.py RESULT.h5 ...

Results of several members on several grids, a row each: of `sinkbowl sweep CASE --over
hole.diameter=... --members 5 --grids 3` with answer = "good", whose coarsest grid is the quick one.
Pooled: standard deviation of the members of all grids about the mean of their grid. Reduced models
have the jet that the flow has.
"""

from __future__ import annotations

import sys
from pathlib import Path

import h5py
import numpy as np
from scipy.special import stdtrit

from sinkbowl.corrected.correction import with_coefficient
from sinkbowl.files.result import read_result
from sinkbowl.reduced import MODELS
from sinkbowl.verification.flow_map import FREE_STREAMLINE

COMPARED = ("quasi-static", "heave")


def main(paths: list[Path]) -> None:
    """Print both tables."""
    heads = ("bowl", "means, coarse to fine [s]", "order", "last two", "pooled", "best", *COMPARED)
    print(f"| {' | '.join(heads)} |\n{'| --- ' * len(heads)}|")
    rows = []
    for path in paths:
        result = read_result(path)
        with h5py.File(path) as file:
            times = file["grids/member_time"][:][::-1]  # coarse to fine
            kind, order = (file["grids"].attrs[name] for name in ("kind", "observed_order"))
        means, n = times.mean(axis=1), times.shape[1]
        freedom = times.size - len(times)
        pooled = np.sqrt(((times - means[:, None]) ** 2).sum() / freedom) / means[-1]
        student = float(stdtrit(freedom, 0.975))
        last = means[-1] / means[-2] - 1.0
        interval = result.interval
        assert interval is not None
        case = with_coefficient(result.case, FREE_STREAMLINE)
        models = [MODELS[name](case).sinking_time for name in COMPARED]
        off = [f"{time / means[-1] - 1.0:+.1%}" if time else "" for time in models]
        told = (
            "within scatter"
            if abs(last) < student * pooled * np.sqrt(2.0 / n)
            else (f"{order:.1f}" if np.isfinite(order) else str(kind))
        )
        best = f"{interval.time:.4g} ± {interval.half / interval.time:.1%}"
        cells = [result.title, ", ".join(f"{mean:.4f}" for mean in means), told, f"{last:+.1%}"]
        print(f"| {' | '.join([*cells, f'{pooled:.1%}', best, *off])} |")
        grid = max(abs(means[0] / means[-1] - 1.0), student * pooled * np.sqrt(2.0 / n))
        scatter = student * pooled * np.sqrt(1.0 + 1.0 / times.size)
        rows.append((interval.hole_ratio, scatter, grid, result.title))
    print("\nhole_ratio [1],scatter [1],grid [1],made of")
    for ratio, scatter, grid, title in sorted(rows):
        print(f'{ratio:.3f},{scatter:.2g},{grid:.2g},"{title}"')


if __name__ == "__main__":
    main([Path(argument) for argument in sys.argv[1:]])
