"""The families of the ladder, in the order of trust, and how they are climbed."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from . import (
    added_mass,
    beach,
    closed_air,
    collapse,
    floor,
    flow_map,
    forced_heave,
    orifices,
    u_tube,
    viscosity,
    wall_damping,
    waves,
)
from .rung import Check, Rung

LADDER: dict[str, tuple[Check, ...]] = {
    "added-mass": added_mass.CHECKS,
    "waves": waves.CHECKS + wall_damping.CHECKS,
    "heave": forced_heave.CHECKS,
    "beach": beach.CHECKS,
    "floor": floor.CHECKS,
    "u-tube": u_tube.CHECKS,
    "orifices": orifices.CHECKS,
    "collapse": collapse.CHECKS,
    "air": closed_air.CHECKS,
    "viscosity": viscosity.CHECKS,
    "map": flow_map.CHECKS,
}


def climb(
    families: Sequence[str], progress: Callable[[int, int], None] | None = None
) -> dict[str, tuple[Rung, ...]]:
    """Compute every rung of some families of `LADDER`.

    progress, if given, is told after each check how many are done, of how many.
    """
    total = sum(len(LADDER[family]) for family in families)
    done, found = 0, {}
    for family in families:
        rungs: list[Rung] = []
        for check in LADDER[family]:
            rungs += as_tuple(check())
            done += 1
            if progress is not None:
                progress(done, total)
        found[family] = tuple(rungs)
    return found


def as_tuple(rungs: Rung | tuple[Rung, ...]) -> tuple[Rung, ...]:
    """What a check returns, one rung or several, as a tuple."""
    return (rungs,) if isinstance(rungs, Rung) else rungs
