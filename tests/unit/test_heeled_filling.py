"""Heel and filling walked together, against closed forms and a walk of its own for a cylinder."""

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq

from cups import cup, ring_text
from sinkbowl.case.case import Case
from sinkbowl.corrected import model as corrected
from sinkbowl.design.checking import check
from sinkbowl.reduced import sinkings
from sinkbowl.reduced.heeled_filling import heeled_filling, heeled_head
from sinkbowl.statics.hydrostatics import draft_at

COEFFICIENT, GRAVITY = 0.6, 9.80665
ANGLES = (np.arange(400) + 0.5) * np.pi / 400


def heeling_cup() -> Case:
    """Heels by 38 deg at most and rights itself."""
    return cup(5, radius=45, height=86, more=f"discharge_coefficient = {COEFFICIENT}")


def offset_cup(hole: float, offset: float, height: float = 60, ring: float = 150) -> Case:
    """Its hole so far beside the axis [mm], and a ring below."""
    low = ring_text(ring, height=-5)
    more = f'offset = "{offset} mm"\ndischarge_coefficient = {COEFFICIENT}\n{low}'
    return cup(hole, radius=45, height=height, mass=120, more=more)


def tipping_cup() -> Case:
    """Its rim dips on the way; the ring, inside and 45 mm above the bottom, is dry till then."""
    more = f"discharge_coefficient = {COEFFICIENT}\n{ring_text(height=45)}"
    return cup(5, radius=45, height=75, mass=120, more=more)


@pytest.mark.parametrize("heel", [0.2, 0.5])
def test_between_upright_walls_the_head_falls_with_the_cosine_of_the_heel(heel):
    """The plane of a given volume in a cylinder turns about one point of the axis as long as it
    reaches neither base nor rim (wall-sided theory, textbook naval hydrostatics, from memory)."""
    case, level = heeling_cup(), 0.026
    draft = draft_at(case, level)
    assert 0.043 * np.tan(heel) < level, "neither water leaves its base"
    head = draft - case.bowl.inner_edge_height - level
    assert heeled_head(case, level, heel) == pytest.approx(head * np.cos(heel), rel=1e-6)


@pytest.mark.parametrize("share", [0.3, 0.999, 1.1])
def test_water_that_has_run_clear_of_the_hole_is_a_hoof(share):
    """A hoof of a cylinder cut through the middle of its base holds 2/3 r^3 tan(heel) (Archimedes,
    The Method): with less water the head is that over the hole's dry edge."""
    case, heel, radius = heeling_cup(), 0.5, 0.043
    level = share * 2.0 / 3.0 * radius**3 * np.tan(heel) / (np.pi * radius**2)
    draft = draft_at(case, level)
    dry = (draft - case.bowl.inner_edge_height) * np.cos(heel)
    of_dry = heeled_head(case, level, heel) / dry
    if share < 1.0:
        assert of_dry == pytest.approx(1.0, abs=1e-6)
    else:
        assert of_dry < 0.98


@pytest.mark.parametrize("heel", [0.1, 0.4])
def test_a_hole_on_the_side_that_is_up_lies_less_deep(heel):
    """By e sin(heel), as long as it is dry; under water a head is the same everywhere (plane
    geometry, hydrostatics)."""
    case, level = offset_cup(8, 15, 86, ring=30), 0.026
    draft, dry = draft_at(case, level), draft_at(case, -0.002)
    bare = (dry - 0.002) * np.cos(heel) - 0.015 * np.sin(heel)
    assert heeled_head(case, -0.002, heel) == pytest.approx(bare, rel=1e-6)
    covered = (draft - 0.002 - level) * np.cos(heel)
    assert heeled_head(case, level, heel) == pytest.approx(covered, rel=1e-6)


@dataclass(frozen=True)
class Cylinder:
    """Water in a cylinder from a base z0 to a height z1, as columns parallel to its axis."""

    radius: float
    z0: float
    z1: float

    def below(self, level: float, heel: float) -> tuple[float, float]:
        """Volume below an inclined plane and its first moment across the vertical."""
        x, depth = self._columns(level, heel)
        weight = 2.0 * (self.radius * np.sin(ANGLES)) ** 2 * np.pi / ANGLES.size
        middle = self.z0 + 0.5 * depth
        moment = weight @ (depth * (x * np.cos(heel) + middle * np.sin(heel)))
        return float(weight @ depth), float(moment)

    def level(self, volume: float, heel: float) -> float:
        reach = self.radius + self.z1
        return float(brentq(lambda z: self.below(z, heel)[0] - volume, -reach, reach, xtol=1e-9))

    def _columns(self, level: float, heel: float) -> tuple[NDArray[np.float64], ...]:
        x = self.radius * np.cos(ANGLES)
        top = (level + x * np.sin(heel)) / np.cos(heel)
        return x, np.clip(top, self.z0, self.z1) - self.z0


def walk(case: Case, steps: int = 50) -> float:
    """Time [s] until the low point of a cup's rim is under: a heel of no moment at every filling,
    Torricelli through the hole in the middle (from first principles)."""
    bowl, rho = case.bowl, case.water.density
    outer = Cylinder(bowl.rim_radius, 0.0, bowl.rim_height)
    inner = Cylinder(bowl.rim_radius - 0.002, 0.002, bowl.rim_height)
    dry, ring, hole = case.total_mass / rho, 0.0, case.hole
    if case.ballast:
        height = float(case.ballast.pieces[0].height)
        afloat = case.ballast.mass / 8500.0 if height < 0.0 else 0.0
        ring, dry = (case.ballast.mass - rho * afloat) * height, dry - afloat
    most = np.pi * outer.radius**2 * outer.z1 - dry
    weight = (bowl.mass * bowl.centroid_z + ring) / rho
    narrow = 0.5 + (COEFFICIENT - 0.5) * np.sqrt(1.0 - (0.5 * hole.diameter / outer.radius) ** 2)
    missing = (bowl.mass / bowl.solid_volume - rho) * GRAVITY * 0.002 * hole.area

    def lever(water: float) -> float:
        """Arm of the weight that balances the hole: its jet, under the upright head, and metal."""
        area = np.pi * outer.radius**2
        head = (dry + water) / area - max(inner.level(water, 1e-9), 0.002)
        thrust = rho * hole.area * COEFFICIENT**2 * 2.0 * GRAVITY * head / narrow
        return float(hole.offset * (thrust + missing) / (rho * GRAVITY * (dry + water)))

    def arm(heel: float, water: float) -> float:
        out = outer.below(outer.level(dry + water, heel), heel)[1]
        within = inner.below(inner.level(water, heel), heel)[1]
        pushed = lever(water) * (dry + water) * float(np.cos(heel))
        return out - within - weight * float(np.sin(heel)) - pushed

    def freeboard(heel: float, water: float) -> float:
        low = outer.z1 * np.cos(heel) - outer.radius * np.sin(heel)
        return float(low - outer.level(dry + water, heel))

    def held(water: float) -> float:
        """Arm just before the rim's low point dips; without one nothing holds the cup."""
        last = brentq(freeboard, 1e-4, 1.5, args=(water,), xtol=1e-7)
        return arm(last, water)

    amounts = np.linspace(0.02, 0.999, 20) * most
    lost = next((k for k, water in enumerate(amounts) if held(water) < 0.0), None)
    end = most if lost is None else brentq(held, amounts[lost - 1], amounts[lost])
    time = 0.0
    for k in range(steps):
        water = (k + 0.5) / steps * end
        heel = 1e-4
        if arm(heel, water) < 0.0:
            heel = brentq(arm, heel, brentq(freeboard, 1e-4, 1.5, args=(water,)), args=(water,))
        edge = 0.002 * np.cos(heel) + hole.offset * np.sin(heel)
        over = max(inner.level(water, heel), edge)
        head = outer.level(dry + water, heel) - over
        speed = COEFFICIENT * np.sqrt(2.0 * GRAVITY * head)
        time += end / steps / (speed * case.hole.area)
    return time


@pytest.mark.parametrize(
    ("case", "tips"),
    [
        (heeling_cup(), False),
        (tipping_cup(), True),
        (offset_cup(16, 20, ring=60), False),
        (offset_cup(12, 25, ring=40), False),
        (offset_cup(8, 20, 90, ring=2), False),
    ],
)
def test_a_heeling_cup_takes_the_time_of_a_walk_of_its_own(case, tips):
    sinking = sinkings(case)["quasi-static"]
    assert ("tips" in sinking.events) == tips
    found, wanted = sinking.events["rim_dips"], walk(case)
    upright = sinking.events["rim_under"]
    print(f"{found:.4g} s, walk {wanted:.4g} s, upright {upright:.4g} s")
    assert found == pytest.approx(wanted, rel=3e-3)
    assert abs(found / upright - 1.0) > 0.01, "the heel must count, or this shows nothing"


def test_the_heel_of_the_bowl_itself_and_that_by_its_hole_are_one_heel():
    """Moment and righting arm are balanced at one heel: with no offset to speak of it is that
    of the bowl itself, once (limit of the walk, from first principles)."""
    beside = sinkings(offset_cup(5, 0.001, 90, ring=1))["quasi-static"].events
    assert beside["rim_dips"] == pytest.approx(walk(offset_cup(5, 0, 90, ring=1)), rel=3e-3)
    assert abs(beside["rim_dips"] / beside["rim_under"] - 1.0) > 0.01


def test_check_sets_the_time_of_the_heeling_bowl_beside_the_upright_one():
    result = check(heeling_cup())
    factor = result.corrected.best.time / result.reduced["heave"].events["rim_under"]
    wanted = factor * result.reduced["heave"].events["rim_dips"]
    assert result.heeled_time == pytest.approx(wanted, rel=1e-12)
    assert result.as_dict()["heeled_time_s"][corrected.MODEL] == result.heeled_time
    assert f"under after {result.heeled_time:.3g} s" in repr(result)


def test_an_upright_cup_and_one_that_fills_too_fast_have_no_time_of_a_heeling_bowl():
    for case in (cup(), cup(40, radius=45, height=86)):
        assert heeled_filling(case) is None
        assert check(case).heeled_time is None
    assert "too fast for that" in repr(check(cup(40, radius=45, height=86)))
