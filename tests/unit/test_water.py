"""Water against the full IAPWS formulations in the `iapws` package."""

from __future__ import annotations

import numpy as np
import pytest
from iapws import IAPWS95
from iapws._iapws import _Tension

from sinkbowl.common.water import water_at

TEMPERATURES = np.linspace(273.16, 373.1, 21)


def test_density_follows_iapws_95_at_atmospheric_pressure() -> None:
    """IAPWS-95 at 0.101325 MPa (package iapws 1.5); 2e-7 is what the module states."""
    errors = [water_at(t).density / IAPWS95(T=t, P=0.101325).rho - 1 for t in TEMPERATURES]
    print("largest relative error", np.abs(errors).max())
    assert np.abs(errors).max() < 2e-7


def test_viscosity_follows_iapws_r12_08() -> None:
    """IAPWS R12-08 at IAPWS-95 density (package iapws); 4e-5 is what the module states."""
    errors = [water_at(t).viscosity / IAPWS95(T=t, P=0.101325).mu - 1 for t in TEMPERATURES]
    print("largest relative error", np.abs(errors).max())
    assert np.abs(errors).max() < 4e-5


def test_surface_tension_follows_iapws_r1_76() -> None:
    """IAPWS R1-76(2014) (package iapws); the same equation, so round-off."""
    for t in TEMPERATURES:
        assert water_at(t).surface_tension == pytest.approx(_Tension(t), rel=1e-12)


@pytest.mark.parametrize(("celsius", "tension"), [(20.0, 72.74e-3), (30.0, 71.20e-3)])
def test_surface_tension_agrees_with_the_steam_tables(celsius: float, tension: float) -> None:
    """Haar, Gallagher & Kell, NBS/NRC Steam Tables (1984) p. 267; printed to 0.01 mN/m."""
    assert water_at(celsius + 273.15).surface_tension == pytest.approx(tension, abs=1e-5)


def test_density_is_greatest_at_four_degrees() -> None:
    """3.98 degC, 999.97 kg/m^3 (handbook value, from memory)."""
    celsius = np.arange(0.0, 10.0, 0.02)
    density = [water_at(t + 273.15).density for t in celsius]
    assert celsius[int(np.argmax(density))] == pytest.approx(3.98, abs=0.03)
    assert max(density) == pytest.approx(999.97, abs=0.006)


@pytest.mark.parametrize("celsius", [-0.1, 100.1, float("nan"), float("inf")])
def test_water_that_is_not_liquid_is_refused(celsius: float) -> None:
    with pytest.raises(ValueError, match="liquid"):
        water_at(celsius + 273.15)
