"""Stages of the water in a bowl: when the first lands, and when the jet is submerged."""

import math

import numpy as np
import pytest

import cups
from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.reduced import heave
from sinkbowl.reduced.stages import MEAN_OVER, Stages, stages_of_flow, stages_of_heave

LANDED, WET, PER_SECOND = 0.15, 0.25, 2e-4
"""When the water of the made-up history lands and runs in [s], and how fast it comes [m^3/s]."""


def cup(scale: float = 1.0) -> Case:
    """The steel cup with a 40 mm hole and a constant coefficient, its lengths times a scale."""
    sizes = {"radius": 50 * scale, "height": 60 * scale, "wall": 2 * scale, "base": 2 * scale}
    more = "discharge_coefficient = 0.61"
    return cups.cup(40 * scale, mass=200 * scale**3, more=more, **sizes)


def history(case: Case, air: float = 0.0) -> dict[str, np.ndarray]:
    """Water that floats freely until it lands, then rests; its pressure comes to the foot later."""
    t = np.linspace(0.0, 0.4, 4001)
    weight = case.water.density * GRAVITY
    volume = PER_SECOND * t
    level = volume / (math.pi * 0.048**2)
    push = np.where(t >= LANDED, weight * volume, 0.0) - weight * volume
    momentum = np.concatenate(([0.0], np.cumsum(0.5 * (push[1:] + push[:-1]) * np.diff(t))))
    return {
        "t": t,
        "inner_volume": volume,
        "inner_level": level,
        "hole_thrust": np.zeros_like(t),
        "inner_momentum": momentum,
        "foot_pressure": np.where(t >= WET, weight * level, 0.0) + air,
        "pocket_pressure": np.full_like(t, air),
    }


@pytest.mark.parametrize("air", [0.0, 200.0])
def test_the_flows_stages_are_those_of_a_history_that_was_made_with_them(air):
    """Air that presses on the foot is no water there."""
    case = cup()
    found = stages_of_flow(case, history(case, air))
    half = 0.5 * MEAN_OVER * math.sqrt(case.bowl.rim_radius / GRAVITY)
    assert found.landed == pytest.approx(LANDED, abs=half)
    assert found.submerged == pytest.approx(WET, abs=half)


def test_water_that_never_lands_has_one_stage():
    case = cup()
    told = history(case)
    push = -case.water.density * GRAVITY * told["inner_volume"]
    fall = np.cumsum(push * (told["t"][1] - told["t"][0]))
    assert stages_of_flow(case, {**told, "inner_momentum": fall}) == Stages(None, None)


def test_a_history_without_the_readings_tells_none():
    case = cup()
    told = history(case)
    del told["foot_pressure"]
    assert stages_of_flow(case, told) is None


def test_the_heave_models_stages_come_one_after_the_other():
    case = cup()
    sinking = heave.solve(case)
    found = stages_of_heave(case, sinking)
    assert 0.0 < found.landed < found.submerged < sinking.sinking_time


def test_stages_of_a_bowl_four_times_as_large_take_twice_as_long():
    """Froude's similarity, exact without viscosity (HEAVE.md, section 6)."""
    small, large = (stages_of_heave(case, heave.solve(case)) for case in (cup(), cup(4.0)))
    assert small is not None
    assert large is not None
    for one, other in zip(small, large, strict=True):
        assert other == pytest.approx(2.0 * (one or 0.0), rel=5e-3)
