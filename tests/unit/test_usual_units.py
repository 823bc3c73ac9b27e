"""Units that are converted without the registry, against the registry (pint)."""

import subprocess
import sys

import numpy as np
import pint
import pytest

from sinkbowl.case.starter import shipped_case
from sinkbowl.common.units import CELSIUS, USUAL, Kind, read_quantity

NUMBERS = np.concatenate((
    np.random.default_rng(1).uniform(-400.0, 400.0, 300).round(2),
    np.geomspace(1e-6, 1e6, 100),
))  # fmt: skip


@pytest.mark.parametrize(
    ("si", "unit"),
    [*((si, unit) for si, units in USUAL.items() for unit in units), ("K", CELSIUS)],
)
def test_usual_units_are_converted_as_the_registry_does_to_the_bit(si, unit):
    """Pint is the source; a run must not change with the way its case was read."""
    kind = Kind("a quantity", si, f"-1e9 {unit}", f"1e9 {unit}", f"1 {unit}")
    registry = pint.UnitRegistry()
    for number in NUMBERS.tolist():
        expected = float(registry.Quantity(number, unit).to(si).magnitude)
        assert read_quantity(f"{number!r} {unit}", kind) == expected


def test_shipped_cases_are_read_without_the_registry():
    """Its loading was a third of what `check` costs."""
    script = (
        "import sys; from sinkbowl.case.case import load_case;"
        f"load_case({str(shipped_case('steel-cup'))!r}); assert 'pint' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", script], check=True)
