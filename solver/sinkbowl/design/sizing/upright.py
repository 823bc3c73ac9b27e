"""The lightest ring that keeps a bowl upright during the whole filling.

The ring touches the bowl from below (or is where the case's ring is); the metacentric height is the
minimum along the filling, as in `check`. Masses are tried in steps; between the last that fails and
the first that succeeds the mass is found by bisection.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from sinkbowl.bowl.ballast import Ballast, Ring
from sinkbowl.case.case import Case
from sinkbowl.case.pieces import nearest_clear_height
from sinkbowl.common.shown import columns, grams, millimetres
from sinkbowl.design.checking import Verdict, verdict
from sinkbowl.design.sizing.design_variable import NEUTRAL, STOUTEST
from sinkbowl.statics.hydrostatics import ballast_needed
from sinkbowl.statics.stability import stability_curve

MATERIALS = {
    "lead": 11_340.0,
    "brass": 8_500.0,
    "stainless": 7_900.0,
    "steel": 7_850.0,
}
"""Name and density [kg/m^3] (handbook values, from memory; brass 8400 to 8700 by its zinc)."""

CAUTION = (
    "Lead is poisonous: wear gloves, make no dust, wash your hands, and keep it away from "
    "children and drains. Local rules may forbid it."
)

NO_RING = "none of the rings tried"

STEPS = 40  # maximum number of steps of the mass
HALFWAY = 0.5  # default radius of a ring, as a share of the rim's

HALVINGS = 20

BEYOND = 2  # steps shown after the last that changes a verdict


@dataclass(frozen=True)
class Loading:
    """The bowl with one ring.

    mass : of the ring [kg], 0 for none
    radius, height, section : of its centre line, of its centre above the bowl's lowest outer
        point, and its diameter [m]
    verdict : of `check`
    least : minimum metacentric height along the filling [m]; None if it is not filled
    """

    mass: float
    radius: float
    height: float
    section: float
    verdict: Verdict
    least: float | None

    def __str__(self) -> str:
        """The ring in words."""
        if self.mass == 0.0:
            return "without a ring"
        height = (
            f"metacentric height {millimetres(self.least, 3)}" if self.least is not None else ""
        )
        return (
            f"{grams(self.mass)}, section {millimetres(self.section, 3)}, centre line "
            f"{millimetres(2.0 * self.radius, 3)} across at {millimetres(self.height, 3)}; "
            f"{height or 'goes under at once'}"
        )

    def upright(self, wished: float) -> bool:
        """Whether the metacentric height stays above a wanted one [m]."""
        return self.least is not None and self.least >= wished


@dataclass(frozen=True)
class Choice:
    """One material.

    density : [kg/m^3]
    rows : one per step, as long as rings fit and the bowl floats dry
    upright : the lightest ring that keeps it upright; None if none does
    sinking : the lightest ring that makes it sink; None if none fits
    both : the lightest ring that does both; None if none does
    """

    density: float
    rows: tuple[Loading, ...]
    upright: Loading | None
    sinking: Loading | None
    both: Loading | None


@dataclass(frozen=True, repr=False)
class Upright:
    """Rings of several materials that keep a bowl upright.

    title : of the case
    wished : wanted metacentric height [m]
    step : of the mass [kg]
    choices : by material
    """

    title: str
    wished: float
    step: float
    choices: Mapping[str, Choice]

    def __repr__(self) -> str:
        """The page that ``sinkbowl size --upright`` prints."""
        wished = millimetres(self.wished, 3)
        lines = [
            self.title,
            f"Wanted: a metacentric height of {wished} or more during the whole filling.",
        ]
        for name, choice in self.choices.items():
            lines += ["", f"{name}, {choice.density:.0f} kg/m\u00b3:"]
            lines += [f"  upright           {choice.upright or NO_RING}"]
            lines += [f"  sinks             {choice.sinking or NO_RING}"]
            lines += [f"  sinks and upright {choice.both or NO_RING}"]
        lines += ["", "In steps, with the verdict of check and the minimum metacentric height:"]
        steps = [
            (grams(k * self.step), *(_cell(choice.rows, k) for choice in self.choices.values()))
            for k in range(self._steps_shown())
        ]
        return "\n".join([*lines, *columns([("ring", *self.choices), *steps]), "", CAUTION])

    def _steps_shown(self) -> int:
        """Steps shown: some beyond those that the materials need, or all."""
        longest = max(len(choice.rows) for choice in self.choices.values())
        needed = [choice.both.mass for choice in self.choices.values() if choice.both]
        if len(needed) < len(self.choices):
            return longest
        return min(longest, int(max(needed) / self.step) + 1 + BEYOND)

    def as_dict(self) -> dict[str, Any]:
        """The answer as plain numbers, strings and None; SI."""
        return {
            "title": self.title,
            "wished_metacentric_height_m": self.wished,
            "step_kg": self.step,
            "materials": {name: asdict(choice) for name, choice in self.choices.items()},
        }


def size_upright(case: Case, wished: float, step: float) -> Upright:
    """Rings that keep the minimum metacentric height above a wanted one.

    Parameters
    ----------
    case : the bowl; its ballast is replaced by the ring sought, at its radius
    wished : [m]
    step : of the mass [kg], > 0
    """
    choices = {name: _choice(case, density, wished, step) for name, density in MATERIALS.items()}
    return Upright(case.title, wished, step, choices)


def with_ring(case: Case, mass: float, density: float) -> Case | None:
    """The case with a ring of a mass [kg] and density [kg/m^3]; None if it does not fit."""
    if mass <= 0.0:
        return replace(case, ballast=Ballast())
    own = case.ballast.ring
    radius = own.radius if own else HALFWAY * case.bowl.rim_radius
    ring = Ring(mass, radius, 0.0, density)
    if ring.section_radius > STOUTEST * radius:
        return None
    inside = own is not None and own in case.inner_ballast.pieces
    first = own.height if own is not None and inside else -ring.section_radius
    ring = replace(ring, height=first)
    height = nearest_clear_height(case.bowl, ring)
    loaded = replace(case, ballast=Ballast((replace(ring, height=height),)))
    return loaded if bool(loaded.inner_ballast) == inside else None


def _choice(case: Case, density: float, wished: float, step: float) -> Choice:
    rows: list[Loading] = []
    for k in range(STEPS + 1):
        row = _loading(case, k * step, density)
        if row is None:
            break
        rows.append(row)
        if k > 0 and row.least is None:
            break
    missing = ballast_needed(replace(case, ballast=Ballast()), density)
    sinking = _loading(case, missing * (1.0 + NEUTRAL), density)
    later = [row for row in rows if sinking is not None and row.mass > sinking.mass]
    from_there = [] if sinking is None else [sinking, *later]
    return Choice(
        density=density,
        rows=tuple(rows),
        upright=_least(case, density, wished, rows),
        sinking=sinking,
        both=_least(case, density, wished, from_there),
    )


def _loading(case: Case, mass: float, density: float) -> Loading | None:
    """The bowl with a ring of a mass; None if it does not fit."""
    loaded = with_ring(case, mass, density)
    if loaded is None:
        return None
    ring, curve = loaded.ballast.ring, stability_curve(loaded)
    place = (0.0, 0.0, 0.0) if ring is None else (ring.radius, ring.height, 2 * ring.section_radius)
    return Loading(mass, *place, verdict(loaded), None if curve is None else curve.minimum)


def _least(case: Case, density: float, wished: float, rows: list[Loading]) -> Loading | None:
    """The lightest ring that keeps it upright, between the rows; None if none does."""
    first = next((k for k, row in enumerate(rows) if row.upright(wished)), None)
    if first is None:
        return None
    found = rows[first]
    low = rows[first - 1].mass if first > 0 else found.mass
    for _ in range(HALVINGS if low < found.mass else 0):
        middle = _loading(case, 0.5 * (low + found.mass), density)
        if middle is not None and middle.upright(wished):
            found = middle
        else:
            low = 0.5 * (low + found.mass)
    return found


def _cell(rows: tuple[Loading, ...], k: int) -> str:
    if k >= len(rows):
        return "-"
    least = rows[k].least
    return "under at once" if least is None else f"{rows[k].verdict}, {1e3 * least:.1f} mm"
