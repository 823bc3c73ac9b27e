"""Fits to measured trials and traces: coefficients and their intervals, ranges, contact angle."""

import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from scipy.optimize import curve_fit

from sinkbowl.case.case import parse_case
from sinkbowl.common import GRAVITY
from sinkbowl_post.fitting.estimate import ConfidenceInterval, FitResult, fit_parameters, trend_of
from sinkbowl_post.fitting.figure import fit_figure
from sinkbowl_post.fitting.fit import fit_page
from sinkbowl_post.fitting.time_law import FINE, solve_at, time_law
from sinkbowl_post.fitting.timed_trials import TimedTrials, timed_trials
from sinkbowl_post.fitting.trace import TraceFit, _independent, fit_trace
from sinkbowl_post.fitting.trial_cases import trial_cases
from sinkbowl_post.fitting.trial_fit import TrialFit, _Ranges, fit_trials
from sinkbowl_post.fitting.verdict import plus_minus, trial_verdict
from sinkbowl_post.fitting.wetting import fit_angle
from sinkbowl_post.measured.mean_time import MeanTime
from sinkbowl_post.measured.measured import Trace, Trial, Trials, read_measured
from sinkbowl_post.style import save_figure
from trials import CASE_TEXT, cup_case, sinking_time, trials_of

TRUE = 0.63
HOLES = (0.004, 0.006, 0.008, 0.010)

MISRA1A = np.array(
    [
        (10.07, 77.6), (14.73, 114.9), (17.94, 141.1), (23.93, 190.8), (29.61, 239.9),
        (35.18, 289.0), (40.02, 332.8), (44.82, 378.4), (50.76, 434.8), (55.05, 477.3),
        (61.01, 536.8), (66.40, 593.1), (75.47, 689.1), (81.78, 760.0),
    ]
)  # fmt: skip


def timed(holes: tuple[float, ...], repeats: int, hole_error: float = 0.0) -> TimedTrials:
    """Trials of the closed form without noise, timed to a known 0.1 s by the model that has it."""
    each = [hole for hole in holes for _ in range(repeats)]
    table = trials_of(each, [sinking_time(TRUE, d) for d in each], hole_uncertainty=hole_error)
    with pytest.MonkeyPatch.context() as only:
        only.setattr("sinkbowl_post.fitting.timed_trials.MODELS", ("quasi-static",))
        found = timed_trials(trial_cases(cup_case(), table), table)
    return replace(found, timing=np.full(len(each), 0.1), freedom=math.inf)


def constant_laws(holes: np.ndarray, times: np.ndarray, timing: float) -> TimedTrials:
    """Trials whose every model is T = 1 s / C (8 mm / hole)^2, in no time at all."""
    each = (0.008 / holes[:, None]) ** 2 / FINE
    nothing = np.zeros(len(holes))
    names = ("quasi-static", "heave", "falling", "corrected")
    inputs = dict.fromkeys(("hole", "mass", "radius"), nothing)
    return TimedTrials(
        hole=holes,
        mass=np.full(len(holes), 0.2),
        time=times,
        timing=np.full(len(holes), timing),
        errors=inputs,
        model_times=dict.fromkeys(names, each),
        sensitivity=dict.fromkeys(names, inputs),
    )


def test_a_nonlinear_fit_gives_the_certified_values_of_misra1a():
    """NIST StRD, nonlinear regression, Misra1a: y = b1 (1 - exp(-b2 x)). Certified (11 digits, from
    memory; the data reproduce them): b1 = 238.94212918 with standard deviation 2.7070075241, b2 =
    5.5015643181e-4 with 7.2668688436e-6, residual sum of squares 0.12455138894. Unit errors: the
    deviations are those of the covariance times sqrt(RSS / 12)."""
    y, x = MISRA1A.T
    found = fit_parameters(
        lambda b: b[0] * (1 - np.exp(-1e-4 * b[1] * x)),
        y,
        np.ones(len(y)),
        [500.0, 1.0],
        ([1.0, 0.1], [1e4, 100.0]),
    )
    scale = math.sqrt(found.chi_square / found.freedom)
    deviations = scale * np.sqrt(np.diag(found.covariance))
    assert found.parameters == pytest.approx([238.94212918, 5.5015643181], rel=1e-8)
    assert deviations == pytest.approx([2.7070075241, 0.072668688436], rel=1e-5), deviations
    assert found.chi_square == pytest.approx(0.12455138894, rel=1e-9)


def test_a_coefficient_with_shared_errors_is_that_of_scipys_curve_fit():
    """With the full covariance; 1e-5: chords of T = 1 s / C (8 mm / hole)^2, and two passes."""
    rng = np.random.default_rng(3)
    holes = np.repeat([0.004, 0.006, 0.008], 3)
    true = (0.008 / holes) ** 2 / TRUE
    timed = constant_laws(holes, true, 0.01)
    shared = {"hole": np.full(9, 2e-5), "mass": np.zeros(9), "radius": np.zeros(9)}
    timed = replace(timed, errors=shared, sensitivity={"heave": {**shared, "hole": -2.0 / holes}})
    everything = np.arange(9)
    s = timed.covariance("heave", TRUE, everything)
    assert s[0, 1] > 0.1 * s[0, 0]
    timed = replace(timed, time=true + rng.multivariate_normal(np.zeros(9), s))
    found = timed.fit("heave", everything)
    s = timed.covariance("heave", float(found.parameters[0]), everything)
    other, covariance = curve_fit(
        lambda d, c: (0.008 / d) ** 2 / c, holes, timed.time, TRUE, sigma=s, absolute_sigma=True
    )
    print(found.parameters, other)
    assert found.parameters == pytest.approx(other, rel=1e-5)
    assert found.covariance == pytest.approx(covariance, rel=5e-3)  # a chord's slope
    off = timed.time - (0.008 / holes) ** 2 / other
    assert found.residuals == pytest.approx(off, abs=1e-5)
    assert found.chi_square == pytest.approx(off @ np.linalg.solve(s, off), rel=1e-3)


def test_residuals_beyond_the_errors_widen_the_interval():
    """Birge ratio: chi^2 = 40 on 10 degrees of freedom doubles it, and t_10 replaces 1.96."""
    quiet = FitResult(np.array([1.0]), np.array([[0.01]]), np.zeros(11), 10.0, 10, True)
    loud = replace(quiet, chi_square=40.0)
    assert quiet.interval().half_width == pytest.approx(1.959964 * 0.1, rel=1e-6)
    assert loud.interval().half_width == pytest.approx(2.228139 * 0.2, rel=1e-6)


@pytest.mark.parametrize("hole", HOLES)
def test_the_law_of_the_quasi_static_model_is_the_closed_form(hole):
    law = time_law(cup_case().with_hole(hole), "quasi-static")
    expected = [math.log(sinking_time(c, hole) * c) for c in FINE]
    off = float(np.max(np.abs(law.log_product - expected)))
    assert off < 1e-6, f"ln T off by {off:.1e}"
    step = 1e-5 * hole
    slope = math.log(sinking_time(0.6, hole + step) / sinking_time(0.6, hole - step)) / (2 * step)
    assert law.sensitivity["hole"] == pytest.approx(slope, rel=3e-3)


def test_the_law_of_the_heave_model_is_good_to_a_third_of_a_per_cent():
    """Against the model itself between the nodes, where a 20 mm hole makes the cup bob."""
    case = cup_case().with_hole(0.020)
    law = time_law(case, "heave")
    for coefficient in (0.53, 0.59, 0.66, 0.74, 0.9):
        exact = solve_at(case, "heave", coefficient).sinking_time
        product = np.interp(np.log(coefficient), np.log(FINE), law.log_product)
        off = float(np.exp(product)) / coefficient / exact - 1
        assert abs(off) < 3e-3, f"C = {coefficient}: {off:.1e}"


def noisy_sets(clean: TimedTrials, hole_error: float, seed: int, sets: int) -> Iterator[Any]:
    """Every hole with its own unknown error, shared by its trials, and each time with its own."""
    rng = np.random.default_rng(seed)
    for _ in range(sets):
        drilled = {d: d + rng.normal(0.0, hole_error) for d in HOLES}
        exact = np.array([sinking_time(TRUE, drilled[d]) for d in clean.hole])
        yield replace(clean, time=exact + rng.normal(0.0, 0.1, len(exact)))


@pytest.mark.parametrize("hole_error", [0.0, 5e-5])
def test_the_interval_holds_the_true_coefficient_as_often_as_it_says(hole_error):
    """300 noisy sets of the closed form; 95 % within 3 standard deviations of a binomial share.
    Widening where chi^2 is large by chance lifts it a little, at most by the 5 % of such sets."""
    clean, sets = timed(HOLES, 3, hole_error), 300
    everything = np.arange(len(clean.time))
    found = [
        noisy.fit("quasi-static", everything).interval()
        for noisy in noisy_sets(clean, hole_error, 7, sets)
    ]
    share = np.mean([one.low <= TRUE <= one.high for one in found])
    slack = 3 * math.sqrt(0.95 * 0.05 / sets)
    assert 0.95 - slack < share < 0.95 + slack + 0.01, f"{share:.3f} of {sets} sets"


@pytest.mark.parametrize("holes", [HOLES, HOLES[:1]])
def test_the_interval_by_the_trials_own_scatter_is_right_too(holes):
    """300 noisy sets of four trials a hole, of which nothing is known of the timing. 95 % within 3
    binomial deviations. With the normal quantile a single hole would have 86 % (the chance of |t_3|
    < 1.96)."""
    clean, rng, hits, sets = timed(holes, 4), np.random.default_rng(11), 0, 300
    everything = np.arange(len(clean.time))
    for _ in range(sets):
        noisy = clean.time + rng.normal(0.0, 0.1, len(everything))
        one = replace(clean, time=noisy, timing=90.0 * clean.timing).with_own_scatter()
        found = one.fit("quasi-static", everything)
        at = float(found.parameters[0])
        interval = found.interval(quantile=one.quantile("quasi-static", at, everything))
        hits += interval.low <= TRUE <= interval.high
    share, slack = hits / sets, 3 * math.sqrt(0.95 * 0.05 / sets)
    assert 0.95 - slack < share < 0.95 + slack, f"{share:.3f} of {sets} sets"


def test_the_fitted_coefficient_has_no_bias():
    """Mean of 150 noisy fits within 3 standard errors; shared errors would pull it down if they
    scaled with the measured times."""
    clean = timed(HOLES, 3, 1e-4)
    everything = np.arange(len(clean.time))
    fits = (noisy.fit("quasi-static", everything) for noisy in noisy_sets(clean, 1e-4, 8, 150))
    found = [float(fit.parameters[0]) for fit in fits]
    off = (np.mean(found) - TRUE) / (np.std(found) / math.sqrt(150))
    assert abs(off) < 3, f"mean {np.mean(found):.5f}, {off:.1f} standard errors off"


def test_the_shares_of_the_variance_tell_who_owns_it():
    """Two causes by hand: n trials of one hole share its error, their timing averages out."""
    clean = timed((0.008,), 4, 5e-5)
    shares = clean.shares("quasi-static", TRUE, np.arange(4))
    t = sinking_time(TRUE, 0.008)
    slope = (sinking_time(TRUE, 0.008 + 1e-7) - sinking_time(TRUE, 0.008 - 1e-7)) / 2e-7
    of_hole, of_timing = (slope * 5e-5) ** 2, 0.1**2 / 4
    expected = of_hole / (of_hole + of_timing)
    assert shares["hole"] == pytest.approx(expected, rel=5e-3), f"{shares} at {t:.1f} s"
    assert sum(shares.values()) == pytest.approx(1.0)


def fitted(clean: TimedTrials, monkeypatch: pytest.MonkeyPatch) -> TrialFit:
    """All of the fit but the laws, which are given."""
    monkeypatch.setattr("sinkbowl_post.fitting.trial_fit.timed_trials", lambda *_: clean)
    each = [float(d) for d in clean.hole]
    return fit_trials(cup_case(), trials_of(each, [float(t) for t in clean.time]))


def test_a_model_that_fails_at_wide_holes_loses_them_only(monkeypatch):
    """Eight holes follow T ~ 1 / d^2; the two widest are 6 % too fast, 6 standard deviations."""
    holes = np.repeat(np.array([2, 3, 4, 5, 6, 8, 10, 12, 16, 20]) * 1e-3, 2)
    exact = (0.008 / holes) ** 2 / TRUE
    times = np.where(holes > 0.014, 0.94, 1.0) * exact
    rng = np.random.default_rng(4)
    clean = replace(constant_laws(holes, times, 1.0), timing=0.01 * exact)
    clean = replace(clean, time=times * (1 + 0.01 * rng.normal(size=len(times))))
    fit = fitted(clean, monkeypatch)
    found = fit.models["quasi-static"]
    assert found.holes == (0.002, 0.012), found
    assert found.coefficient.low < TRUE < found.coefficient.high, found.coefficient
    told = " ".join(trial_verdict(fit))
    assert "holes from 2 to 12 mm" in told, told
    assert "less time" in told, told


@pytest.mark.slow
def test_true_models_keep_their_whole_range_nearly_always(monkeypatch):
    """Two tests at 5 % each: of 80 sets that follow the model 0-10 % lose a hole, 3 binomial
    deviations more at most."""
    holes = np.repeat(np.array([2, 3, 4, 5, 6, 8]) * 1e-3, 3)
    exact, rng, kept = (0.008 / holes) ** 2 / TRUE, np.random.default_rng(6), 0
    for _ in range(80):
        noisy = exact * (1 + 0.01 * rng.normal(size=len(exact)))
        clean = replace(constant_laws(holes, noisy, 1.0), timing=0.01 * exact)
        kept += _Ranges(clean, "quasi-static").longest() == (0.002, 0.008)
    assert kept / 80 >= 0.9 - 3 * math.sqrt(0.9 * 0.1 / 80), f"{kept} of 80"


@pytest.mark.parametrize(
    ("coefficients", "timing", "holes", "says"),
    [
        ((0.5, 0.7, 0.5, 0.7), 1e-3, None, "No model explains two neighbouring holes"),
        ((TRUE,) * 4, 0.01, (0.004, 0.010), "cannot be excluded for any hole tried, 4 to 10 mm"),
    ],
)
def test_holes_that_agree_support_a_model_and_others_none(
    coefficients, timing, holes, says, monkeypatch
):
    times = (0.008 / np.array(HOLES)) ** 2 / np.array(coefficients)
    fit = fitted(constant_laws(np.array(HOLES), times, timing), monkeypatch)
    assert fit.best.holes == holes
    assert says in trial_verdict(fit)[0]
    assert fit.trend("quasi-static") is None


def test_one_hole_tells_a_coefficient_but_no_model(monkeypatch):
    holes = np.full(4, 0.008)
    times = 1 / TRUE + np.array([-0.01, 0.01, 0.0, 0.005])
    fit = fitted(constant_laws(holes, times, 0.01), monkeypatch)
    assert fit.best.coefficient.value == pytest.approx(TRUE, rel=0.01)
    assert "One hole cannot distinguish" in trial_verdict(fit)[0]


def test_one_hole_is_drawn_as_what_it_tells(monkeypatch):
    """Its mean, the suspect row, each model's coefficient; no text leaves the slide."""
    times = np.array([1.58, 1.60, 1.57, 1.61, 2.4])
    clean = constant_laws(np.full(5, 0.008), times, 0.05)
    mean = MeanTime(tuple(Trial(2 + k, time=t) for k, t in enumerate(times)), 0.05)
    clean = replace(clean, groups=(np.arange(5),), means=(mean,)).with_own_scatter()
    figure = fit_figure(fitted(clean, monkeypatch))
    texts = [text for text in figure.findobj(Text) if isinstance(text, Text) and text.get_text()]
    words = " ".join(text.get_text() for text in texts)
    for word in ("Hole of 8 mm", mean.words, "suspect", "quasi-static", "heave", "expected"):
        assert word in words, words
    FigureCanvasAgg(figure).draw()
    whole = figure.bbox
    for text in texts:
        box = text.get_window_extent()
        assert whole.x0 <= box.x0, text
        assert box.x1 <= whole.x1, text


def test_plugged_and_started_holes_enclose_the_contact_angle():
    """Holes that a meniscus of 50 deg would hold, or not, by the law of small holes. H = 4 sigma
    sin(theta) / (rho g d) (Young-Laplace; references with 4 sigma / (rho g d) for the steepest
    meniscus). Gravity on the meniscus moves it by 5 % here, 2 deg of angle."""
    case = cup_case()
    head = 0.2 / (998.2072 * math.pi * 0.05**2) - 0.002
    critical = 4 * 0.072736 * math.sin(math.radians(50)) / (998.2072 * GRAVITY * head)
    holes = [critical * factor for factor in (0.5, 0.7, 0.85, 0.95, 1.05, 1.15, 1.3, 2.0)]
    times = [None if d < critical else 400.0 for d in holes]
    found = fit_angle(trial_cases(case, trials_of(holes, times)))
    assert (found.plugged, found.started) == (4, 4)
    assert math.degrees(found.angle) == pytest.approx(50, abs=4), math.degrees(found.angle)
    assert found.low < math.radians(50)
    assert found.high is None or found.high > math.radians(50)


def test_plugged_holes_alone_give_a_lower_bound_of_the_angle_and_started_ones_none():
    found = fit_angle(trial_cases(cup_case(), trials_of([0.0009, 0.001], [None, None])))
    assert (found.angle, found.high) == (None, None)
    assert math.radians(20) < found.low < math.radians(90)
    assert fit_angle(trial_cases(cup_case(), trials_of([0.004], [50.0]))) is None


def closed_trace(noise: float, released: float) -> Trace:
    """Filling of the cup with its 8 mm hole, by the model that is checked above."""
    case, rng = cup_case(), np.random.default_rng(2)
    sinking = solve_at(case, "quasi-static", TRUE)
    t = np.arange(0.0, sinking.events["rim_under"], 0.2)
    draft = np.interp(t - released, sinking.t, sinking.draft)
    return Trace(Path("t.csv"), t, draft + rng.normal(0, noise, len(t)), np.full(len(t), noise))


@pytest.fixture(scope="module")
def traced() -> TraceFit:
    return fit_trace(cup_case(), closed_trace(2e-4, 0.15))


@pytest.mark.slow
def test_a_trace_gives_back_coefficient_and_moment_of_release(traced):
    fit, found = traced, traced.models["quasi-static"]
    low, high = found.coefficient.low, found.coefficient.high
    assert low < TRUE < high, found.coefficient
    assert high - low < 0.03, "an interval of 5 %, or the test says nothing"
    assert found.released == pytest.approx(0.15, abs=0.1)
    assert found.rms_difference == pytest.approx(2e-4, rel=0.2)
    assert found.supported
    assert fit.models["falling"].supported is False
    assert fit.models["falling"].rms_difference > 10 * found.rms_difference


@pytest.mark.slow
def test_a_case_that_leaves_the_hole_open_widens_the_interval_of_a_trace(traced, monkeypatch):
    """0.1 mm of an 8 mm hole is 1.25 % of it, 2.5 % of its area and of the coefficient."""
    monkeypatch.setattr("sinkbowl_post.fitting.trace.MODELS", ("quasi-static",))
    sure = traced.models["quasi-static"].coefficient
    text = CASE_TEXT.replace('hole = "0 mm"', 'hole = "0.1 mm"')
    again = fit_trace(parse_case(text, Path(), "c.toml"), traced.trace)
    unsure = again.models["quasi-static"].coefficient
    added = math.sqrt(unsure.half_width**2 - sure.half_width**2) / unsure.value / 1.959964
    assert added == pytest.approx(0.025, rel=0.02), f"{added:.4f}"


def test_correlated_residuals_count_less():
    """An autoregressive series with r = 0.8: n (1 - r) / (1 + r), and the scatter of its mean."""
    rng, n, r = np.random.default_rng(1), 4000, 0.8
    series = np.zeros((40, n))
    for k in range(1, n):
        series[:, k] = r * series[:, k - 1] + rng.normal(size=40)
    counted = float(np.mean([_independent(row) for row in series]))
    assert counted == pytest.approx(n * 0.2 / 1.8, rel=0.05), f"{counted:.0f}"
    measured = float(np.var(series)) / float(np.var(series.mean(axis=1)))
    assert counted == pytest.approx(measured, rel=0.6), f"{counted:.0f} against {measured:.0f}"


@pytest.mark.parametrize(
    ("value", "half", "text"),
    [
        (0.6123, 0.0082, "0.6123 ± 0.0082"),
        (0.6123, 0.024, "0.612 ± 0.024"),
        (3.2, 1.4, "3.2 ± 1.4"),
    ],
)
def test_a_value_has_the_decimals_of_its_uncertainty(value, half, text):
    assert plus_minus(ConfidenceInterval(value, value - half, value + half)) == text


@pytest.mark.slow
def test_the_command_fits_prints_and_draws(tmp_path, figures):
    rows = [f"{d * 1e3:g},{sinking_time(TRUE, d):.2f}" for d in (0.008, 0.008, 0.012)]
    table, case, figure = (tmp_path / name for name in ("trials.csv", "cup.toml", "fit.svg"))
    table.write_text("hole [mm],time [s]\n" + "\n".join(rows) + "\n")
    case.write_text(CASE_TEXT)
    told = figures("fit", case, "--measured", table, "-o", figure)
    found = told["models"]["quasi-static"]["discharge_coefficient"]
    assert found["low"] < TRUE < found["high"], found
    assert (told["trials"], bool(told["verdict"])) == (3, True)
    assert figure.stat().st_size > 10_000


@pytest.mark.slow
def test_pages_and_figures_name_every_model(tmp_path, monkeypatch, traced):
    holes = np.array([0.004, 0.006, 0.008, 0.010])
    trials = fitted(constant_laws(holes, (0.008 / holes) ** 2 / TRUE, 0.02), monkeypatch)
    for fit in (trials, traced):
        page = fit_page(fit)
        figure = fit_figure(fit)
        save_figure(figure, tmp_path / "fit.png")
        words = " ".join(text.get_text() for text in figure.texts)
        for name in ("quasi-static", "heave", "falling body"):
            assert name in page, page
            assert name in words, words
        assert all(axes.get_legend() is None for axes in figure.axes)


def test_the_shipped_tables_are_marked_as_invented_and_can_be_read():
    folder = Path(__file__).parents[2] / "cases" / "measured"
    for path in sorted(folder.glob("*.csv")):
        assert "INVENTED" in path.read_text().splitlines()[0], path
        assert isinstance(read_measured(path), Trials | Trace)


def test_a_sliding_coefficient_is_a_trend_and_not_an_explanation(monkeypatch):
    """From first principles: coefficients of 0.62 to 0.43 along the logarithm of the hole."""
    holes = np.array([0.004, 0.006, 0.009, 0.0135, 0.02])
    along = np.log(holes / holes[0]) / np.log(holes[-1] / holes[0])
    times = (0.008 / holes) ** 2 / (0.62 - 0.19 * along)
    fit = fitted(constant_laws(holes, times, 1e-3), monkeypatch)
    trend = fit.trend("quasi-static")
    assert (trend.first, trend.last) == pytest.approx((0.62, 0.43), abs=0.01)
    told = " ".join(trial_verdict(fit))
    assert "changes from 0.62 (4 mm) to 0.43 (20 mm): a trend, not an explanation" in told


def test_coefficients_that_agree_within_their_intervals_have_no_trend():
    """0.63 with an interval of 0.02 may be 0.62 or 0.64 at either end."""
    flat = [ConfidenceInterval(c, c - 0.02, c + 0.02) for c in (0.62, 0.64, 0.625, 0.635)]
    assert trend_of([0.004, 0.006, 0.008, 0.010], flat) is None
    assert trend_of([0.004, 0.010], flat[:2]) is None
