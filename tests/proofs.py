"""The rungs of the ladder of proof as tests climb them."""

from sinkbowl.proof.ladder import as_tuple
from sinkbowl.proof.rung import Check, Rung


def hold(check: Check) -> tuple[Rung, ...]:
    """Compute the rungs of a check, which all must pass, and return them."""
    rungs = as_tuple(check())
    for rung in rungs:
        assert rung.passed, (
            f"{rung.name}: {rung.ours:.6g} {rung.unit} against {rung.reference:.6g}, "
            f"{100.0 * rung.error:+.3f} %, allowed {100.0 * rung.allowed:g} %; {rung.grids}"
        )
    return rungs
