"""The verification cases of the verification suite as tests climb them."""

from sinkbowl.verification.suite import as_tuple
from sinkbowl.verification.verification_case import Check, VerificationCase


def hold(check: Check) -> tuple[VerificationCase, ...]:
    """Compute the verification cases of a check, which all must pass, and return them."""
    checks = as_tuple(check())
    for check in checks:
        assert check.passed, (
            f"{check.name}: {check.ours:.6g} {check.unit} against {check.reference:.6g}, "
            f"{100.0 * check.error:+.3f} %, allowed {100.0 * check.allowed:g} %; {check.grids}"
        )
    return checks
