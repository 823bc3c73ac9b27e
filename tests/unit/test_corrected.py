"""Heave, corrected by the map: honest intervals, the limits that theory knows, and its refusals."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern
from tests.cups import cup

from sinkbowl.before.budget.variation import meniscus_aside, with_coefficient
from sinkbowl.before.checking import check
from sinkbowl.case.case import Case
from sinkbowl.common.errors import ResultError
from sinkbowl.corrected import MODELS, flow_map
from sinkbowl.corrected.correction import Correction, correction, correction_on
from sinkbowl.corrected.flow_map import (
    KEPT_OUT,
    MEASURED,
    MapRow,
    assembled,
    parsed,
    written,
)
from sinkbowl.corrected.model import corrected, stretched
from sinkbowl.corrected.surface import Surface
from sinkbowl.mapping.choice import least_sure
from sinkbowl.mapping.fit import fitted
from sinkbowl.mapping.release import as_the_flow_sees_it
from sinkbowl.reduced import falling, heave

HOLES = (8.0, 12.0, 16.0, 20.0, 26.0, 33.0, 41.0, 50.0, 60.0, 71.0, 83.0, 94.0)
"""Of the cup [mm]: d/D from 0.08 to 0.94."""


def found(case: Case) -> Correction:
    open_hole = meniscus_aside(case)
    return correction(open_hole, heave.solve(open_hole, quick=True))


def off_and_half(row: MapRow) -> tuple[float, float]:
    """How far the flow's time of a bowl is from the corrected one, and half the interval; shares.

    With the flow's own jet, whose coefficient is known: the law of the hole adds nothing.
    """
    case = meniscus_aside(as_the_flow_sees_it(row.bowl.case()))
    by_heave = heave.solve(case, quick=True)
    told = correction(case, by_heave)
    assert by_heave.sinking_time is not None
    known = replace(told, law=0.0)
    return row.time / (told.factor * by_heave.sinking_time) - 1.0, known.half


@pytest.fixture(scope="module")
def kept_out() -> np.ndarray:
    """Of the forty bowls that the fit has not seen: off, and half the interval."""
    rows = [row for row in flow_map.flow_map().rows if row.use == KEPT_OUT]
    return np.array([off_and_half(row) for row in rows])


@pytest.mark.slow
def test_of_forty_bowls_kept_out_of_the_fit_90_to_98_per_cent_lie_in_the_interval(
    kept_out: np.ndarray,
) -> None:
    """What a 95 % interval means; forty draws leave it 90 to 98 % (binomial)."""
    assert len(kept_out) == 40
    inside = np.abs(kept_out[:, 0]) <= kept_out[:, 1]
    assert 0.90 <= inside.mean() <= 0.98, f"{inside.sum()} of {len(inside)}"


@pytest.mark.slow
def test_half_of_the_bowls_kept_out_are_told_to_two_per_cent(kept_out: np.ndarray) -> None:
    """The package's own aim."""
    assert float(np.median(np.abs(kept_out[:, 0]))) <= 0.02


def test_a_hole_that_closes_leaves_the_heave_model_as_it_is() -> None:
    """Bowls in balance: the heave model's limit, from first principles."""
    told = found(cup(4.0))
    assert told.reason == ""
    assert told.factor == pytest.approx(1.0, abs=0.02)


def test_where_the_base_is_gone_the_bowl_drops_as_a_body_does() -> None:
    """The falling model's limit, from first principles; a ring 96 mm wide inside."""
    case = cup(96.0)
    body = falling.solve(case, quick=True).sinking_time
    told = MODELS["corrected"](case, quick=True).sinking_time
    assert told == pytest.approx(body, rel=0.05)


def test_a_wider_hole_never_takes_longer() -> None:
    """From first principles."""
    times = [MODELS["corrected"](meniscus_aside(cup(d)), quick=True).sinking_time for d in HOLES]
    assert np.all(np.diff(times) < 0.0), times


def test_bowls_alike_in_every_number_sink_alike() -> None:
    """Froude's similarity: lengths by k, times by sqrt(k), viscosity by k^1.5, tension by k^2."""
    k = 0.8
    small = cup(32.0, radius=40, height=48, wall=1.6, base=1.6, mass=200 * k**3)
    water = replace(
        small.water,
        viscosity=small.water.viscosity * k**1.5,
        surface_tension=small.water.surface_tension * k**2,
    )
    one, other = (MODELS["corrected"](case) for case in (cup(40.0), replace(small, water=water)))
    assert one.sinking_time is not None
    assert other.sinking_time == pytest.approx(one.sinking_time * math.sqrt(k), rel=1e-6)


@pytest.mark.parametrize(
    ("case", "why"),
    [
        (cup(40.0, more='[start]\nkind = "push"\npush = "0.02 N s"'), "none was dropped or pushed"),
        (cup(40.0, more='[flow]\ntub_radius = "90 mm"'), "narrower than the map's"),
        (cup(40.0, more='[flow]\ntub_depth = "200 mm"'), "deep"),
        (cup(40.0, mass=480), "at once"),
        (cup(40.0, density="690 kg/m^3"), "does not go under by itself"),
        (cup(40.0, height=400, mass=900), "height over rim radius"),
    ],
    ids=["push", "narrow tub", "shallow tub", "heavy", "light", "tall"],
)
def test_beyond_the_map_heave_stands_alone_with_the_reason(case: Case, why: str) -> None:
    """Heave's time is kept, with the error it has on the map's bowls."""
    by_heave = heave.solve(case)
    told = corrected(case, by_heave)
    assert why in told.correction.reason
    assert told.sinking.sinking_time == by_heave.sinking_time
    assert 0.0 < told.correction.half < 0.6
    assert "heave alone" in told.sinking.outcome


def test_a_coefficient_that_is_given_takes_its_error_off_the_interval() -> None:
    """What the case states is not doubted here; --spread does that."""
    estimated, given = found(cup(40.0)), found(with_coefficient(cup(40.0), 0.61))
    assert estimated.law > 0.0
    assert given.law == 0.0


def test_the_course_reaches_half_of_the_way_when_the_map_says() -> None:
    """From the definition of the bend; time never runs back."""
    by_heave = heave.solve(cup(30.0))
    rim = by_heave.sinking_time
    assert rim is not None
    bent = stretched(by_heave, 1.2, 0.5)
    assert bent.sinking_time == pytest.approx(1.2 * rim)
    assert np.all(np.diff(bent.t) > 0.0)
    half = np.interp(0.5 * rim, by_heave.t, bent.t)
    assert half == pytest.approx(1.2 * rim * 0.5 * 1.25, rel=1e-3)
    before = bent.t <= bent.sinking_time
    moved = np.trapezoid(bent.speed[before], bent.t[before])
    assert moved == pytest.approx(np.ptp(by_heave.draft[before]), rel=2e-3)


def test_check_prints_the_corrected_time_first_with_its_interval() -> None:
    page = repr(check(cup(40.0)))
    times = page.split("Time until the rim is under:\n")[1].splitlines()
    assert times[0].strip().startswith("heave, corrected")
    assert "\u00b1" in times[0]


def test_the_shipped_table_has_the_checksum_that_its_surfaces_know(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A table and surfaces of different makings are refused."""
    assert flow_map.flow_map.__wrapped__().rows
    monkeypatch.setattr(flow_map, "TABLE", "__init__.py")
    with pytest.raises(ResultError, match="do not belong together"):
        flow_map.flow_map.__wrapped__()


def test_the_table_is_read_as_it_is_written() -> None:
    rows = flow_map.flow_map().rows[:5]
    again = parsed(written(rows, "remark"))
    assert [row.bowl for row in again] == [row.bowl for row in rows]
    assert [row.time for row in again] == pytest.approx([row.time for row in rows], rel=1e-5)


def test_the_table_tells_the_numbers_of_its_bowls() -> None:
    """Every fiftieth row against its own dimensions."""
    for row in flow_map.flow_map().rows[::50]:
        case = meniscus_aside(as_the_flow_sees_it(row.bowl.case()))
        time = heave.solve(case, quick=True).sinking_time
        assert time == pytest.approx(row.heave_time, rel=1e-4)


def test_the_surface_is_that_of_a_general_library() -> None:
    """scikit-learn's GaussianProcessRegressor with the same constants."""
    random = np.random.default_rng(1)
    points, values = random.uniform(size=(40, 3)), random.normal(size=40)
    noise, lengths = random.uniform(0.05, 0.2, 40), np.array([0.3, 0.8, 2.0])
    ours = Surface(points, values, noise, 1.3, lengths, 0.0)
    kernel = ConstantKernel(1.3**2) * Matern(lengths, nu=2.5)
    theirs = GaussianProcessRegressor(kernel, alpha=noise**2, optimizer=None).fit(points, values)
    for point in random.uniform(size=(5, 3)):
        mean, deviation = theirs.predict(point[None, :], return_std=True)
        told = ours.at(point)
        assert told.value == pytest.approx(mean[0], rel=1e-8)
        assert told.deviation == pytest.approx(deviation[0], rel=1e-6)


def test_a_surface_without_one_of_its_points_is_what_left_out_tells() -> None:
    """Made anew without the point."""
    random = np.random.default_rng(2)
    points, values = random.uniform(size=(12, 2)), random.normal(size=12)
    noise = np.full(12, 0.1)
    whole = Surface(points, values, noise, 1.0, np.array([0.4, 0.4]), 0.0)
    value, deviation = whole.left_out()
    rest = Surface(points[1:], values[1:], noise[1:], 1.0, np.array([0.4, 0.4]), 0.0)
    told = rest.at(points[0])
    assert value[0] == pytest.approx(told.value)
    assert deviation[0] == pytest.approx(math.hypot(told.deviation, 0.1))


def cheap(numbers: np.ndarray) -> float:
    """A made-up flow solver: its time over heave's, smooth in three of the numbers."""
    return 1.0 + 0.1 * numbers[0] - 0.05 * numbers[3] + 0.05 * np.sin(2.0 * numbers[8])


@pytest.mark.slow
def test_a_map_of_a_cheap_model_gives_that_model_back() -> None:
    """Bowls of the shipped map with times of a made-up solver; one in four is asked for."""
    shipped = [row for row in flow_map.flow_map().rows if row.use == MEASURED][:160]
    rows = tuple(
        replace(row, time=row.heave_time * cheap(row.numbers), scatter=0.001, members=3)
        for row in shipped
    )
    learnt = tuple(row for k, row in enumerate(rows) if k % 4)
    small = assembled(learnt, fitted(learnt))
    off = []
    for row in rows[::4]:
        case = meniscus_aside(as_the_flow_sees_it(row.bowl.case()))
        told = correction_on(small, case, heave.solve(case, quick=True))
        if not told.reason:
            off.append(told.factor / cheap(row.numbers) - 1.0)
    assert len(off) > 30
    assert float(np.median(np.abs(off))) < 0.003
    assert float(np.max(np.abs(off))) < 0.03


def test_bowls_to_compute_next_lie_apart_and_where_little_is_known() -> None:
    """Of two alike only one is chosen, and none where a bowl is known."""
    rows = flow_map.flow_map().rows[:6]
    points = np.array([row.numbers for row in rows])
    surface = Surface(points[:1], np.zeros(1), np.full(1, 1e-3), 1.0, np.full(9, 0.5), 0.0)
    alike = [rows[0], rows[1], rows[1], rows[2]]
    even = [replace(row, heave_time=1.0, bowl=rows[0].bowl) for row in alike]
    chosen = least_sure(surface, even, 2)
    assert sorted(chosen)[0] in (1, 2)
    assert sorted(chosen)[1] == 3
