"""The families of the verification suite, in order of complexity."""

from collections.abc import Callable, Sequence

from . import (
    Check,
    VerificationCase,
    added_mass,
    beach,
    collapse,
    floor,
    flow_map,
    forced_heave,
    orifices,
    u_tube,
    viscosity,
    waves,
)

FAMILIES: dict[str, tuple[Check, ...]] = {
    "added-mass": added_mass.CHECKS,
    "waves": waves.CHECKS,
    "heave": forced_heave.CHECKS,
    "beach": beach.CHECKS,
    "floor": floor.CHECKS,
    "u-tube": u_tube.CHECKS,
    "orifices": orifices.CHECKS,
    "collapse": collapse.CHECKS,
    "air": (collapse.bubble_verification, u_tube.spring_verification),
    "viscosity": viscosity.CHECKS,
    "map": flow_map.CHECKS,
}


def run_suite(
    families: Sequence[str], progress: Callable[[int, int], None] | None = None
) -> dict[str, tuple[VerificationCase, ...]]:
    """Compute the verification cases of some of `FAMILIES`.

    progress : called after each check with the number done and in total
    """
    total = sum(len(FAMILIES[family]) for family in families)
    done, found = 0, {}
    for family in families:
        checks: list[VerificationCase] = []
        for check in FAMILIES[family]:
            checks += as_tuple(check())
            done += 1
            if progress is not None:
                progress(done, total)
        found[family] = tuple(checks)
    return found


def as_tuple(
    checks: VerificationCase | tuple[VerificationCase, ...],
) -> tuple[VerificationCase, ...]:
    """The result of a check, one or several verification cases, as a tuple."""
    return (checks,) if isinstance(checks, VerificationCase) else checks
