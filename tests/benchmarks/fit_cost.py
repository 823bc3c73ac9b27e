"""Cost of fitting the shipped trials: print what a sinking and a time law cost, in CPU time.

Run: python tests/benchmarks/fit_cost.py
"""

from time import process_time

from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.reduced import MODELS
from sinkbowl_post.fitting.time_law import USUAL, solve_at, time_law
from sinkbowl_post.fitting.trial_fit import fit_trials
from sinkbowl_post.measured.measured import Trials, read_measured

HOLES = (0.004, 0.012, 0.040)
"""Hole diameters of the single sinkings [m]."""


def main() -> None:
    """Time whole sinkings and time laws hole by hole, then one whole fit."""
    path = shipped_case("steel-cup")
    case = load_case(path)
    print(f"{'model':>14} {'hole mm':>8} {'sinking ms':>11} {'law ms':>8}")
    for model in MODELS:
        for hole in HOLES:
            drilled = case.with_hole(hole)
            begun = process_time()
            solve_at(drilled, model, USUAL)
            solved = process_time()
            time_law(drilled, model)
            done = process_time()
            print(
                f"{model:>14} {1e3 * hole:8.0f} {1e3 * (solved - begun):11.1f} "
                f"{1e3 * (done - solved):8.1f}"
            )
    trials = read_measured(path.parent / "measured" / "steel-cup-trials.csv")
    assert isinstance(trials, Trials)
    begun = process_time()
    found = fit_trials(case, trials)
    print(f"whole fit: {process_time() - begun:.2f} s")
    for name, fit in found.models.items():
        print(f"{name:>14}: {fit.coefficient}, holes {fit.holes}, chi^2 {fit.chi_square:.4f}")


if __name__ == "__main__":
    main()
