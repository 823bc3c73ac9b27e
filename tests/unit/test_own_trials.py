"""Own trials and traces lie where they belong: on both panels, and a figure off each model."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.common.errors import CaseError
from sinkbowl.reduced import MODELS
from sinkbowl_post.measured.measured import Trace
from sinkbowl_post.measured.overlay import rms_words, trace_rms
from sinkbowl_post.reference_curves.curves import curves
from sinkbowl_post.reference_curves.table import read_points
from sinkbowl_post.reference_curves.trials import trial_points
from trials import trials_of

TABLE = shipped_case("steel-cup").parent / "curves" / "steel-cup.csv"
CASE = load_case(shipped_case("steel-cup"))


def test_a_trial_as_quick_as_a_run_lies_on_the_zero_line():
    """A trial with the run's own hole, mass and time: no deviation, to the table's digits."""
    points, _ = read_points([TABLE])
    run = next(point for point in points if point.mass_ratio > 0.5 and 0.2 < point.hole_ratio < 0.4)
    heavy = trials_of([run.hole], [run.time])
    heavy = replace(heavy, trials=(replace(heavy.trials[0], mass=0.240),))
    (trial,) = trial_points(CASE, heavy, points)
    assert trial.hole_ratio == pytest.approx(run.hole_ratio, rel=1e-4)
    assert trial.mass_ratio == pytest.approx(run.mass_ratio, rel=1e-3)
    assert trial.deviation == pytest.approx(0.0, abs=0.01)


def test_trials_of_all_holes_have_a_place_and_those_beyond_the_runs_no_deviation():
    points, _ = read_points([TABLE])
    told = trial_points(CASE, trials_of([0.001, 0.02, 0.02, 0.04], [900.0, 2.1, 2.2, 0.5]), points)
    assert [len(trial.timed.times) for trial in told] == [1, 2, 1]
    assert [trial.deviation is None for trial in told] == [True, False, False]
    assert told[1].timed.mean == pytest.approx(2.15)


def test_a_table_alone_does_not_know_the_bowl():
    with pytest.raises(CaseError, match="--case"):
        curves(TABLE, measured=TABLE)


def test_rms_off_a_trace_is_that_of_a_curve_moved_by_so_much():
    """Moved down by 2 mm all along: an rms of 2 mm, from first principles."""
    models = {name: MODELS[name](CASE) for name in ("heave", "quasi-static")}
    heave = models["heave"]
    t = np.linspace(0.0, 1.5, 40)
    trace = Trace(Path("t.csv"), t, np.interp(t, heave.t, heave.draft) + 2e-3, None)
    rms = trace_rms(trace, models)
    assert rms["heave"] == pytest.approx(2e-3, rel=1e-9)
    assert "heave 2 mm" in rms_words(rms)
    late = Trace(Path("t.csv"), t + 10.0, trace.draft, None)
    assert trace_rms(late, models) == {"heave": None, "quasi-static": None}
    assert rms_words(trace_rms(late, models)) == ""
