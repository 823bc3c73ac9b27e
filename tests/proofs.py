"""The rungs of the ladder of proof as tests climb them."""

from sinkbowl.proof.ladder import as_tuple
from sinkbowl.proof.rung import Check


def hold(check: Check) -> None:
    """Compute the rungs of a check; all must pass."""
    for rung in as_tuple(check()):
        assert rung.passed, (
            f"{rung.name}: {rung.ours:.6g} {rung.unit} against {rung.reference:.6g}, "
            f"{100.0 * rung.error:+.3f} %, allowed {100.0 * rung.allowed:g} %; {rung.grids}"
        )
