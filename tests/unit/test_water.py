"""Water against the full IAPWS formulations in the `iapws` package; salt and soap in the tub."""

from pathlib import Path

import numpy as np
import pytest
from iapws import IAPWS95
from iapws._iapws import _Tension
from iapws.iapws08 import SeaWater, _Tension_SeaWater

import cups
from sinkbowl.case.case import Case, parse_case
from sinkbowl.common.errors import CaseError
from sinkbowl.common.water import water_at
from sinkbowl.design.budget.uncertainty import error_budget
from sinkbowl.design.checking import check

TEMPERATURES = np.linspace(273.16, 373.1, 21)


def test_density_and_viscosity_follow_iapws_95_and_r12_08_at_atmospheric_pressure():
    """IAPWS-95 and R12-08 at 0.101325 MPa (package iapws 1.5); 2e-7 and 4e-5 is what the module
    states."""
    published = [IAPWS95(T=t, P=0.101325) for t in TEMPERATURES]
    ours = [water_at(t) for t in TEMPERATURES]
    density = [a.density / b.rho - 1 for a, b in zip(ours, published, strict=True)]
    viscosity = [a.viscosity / b.mu - 1 for a, b in zip(ours, published, strict=True)]
    print("largest relative errors", np.abs(density).max(), np.abs(viscosity).max())
    assert np.abs(density).max() < 2e-7
    assert np.abs(viscosity).max() < 4e-5


def test_surface_tension_follows_iapws_r1_76_and_that_of_salt_water_g14_19():
    """IAPWS R1-76(2014) and G14-19 (package iapws); the same equations, so round-off."""
    for t in TEMPERATURES:
        assert water_at(t).surface_tension == pytest.approx(_Tension(t), rel=1e-12)
    for t in (275.0, 293.15, 350.0):
        published = _Tension_SeaWater(t, 0.035)
        assert water_at(t, 0.035).surface_tension == pytest.approx(published, rel=1e-12)


@pytest.mark.parametrize(("celsius", "tension"), [(20.0, 72.74e-3), (30.0, 71.20e-3)])
def test_surface_tension_agrees_with_the_steam_tables(celsius, tension):
    """Haar, Gallagher & Kell, NBS/NRC Steam Tables (1984) p. 267; printed to 0.01 mN/m."""
    assert water_at(celsius + 273.15).surface_tension == pytest.approx(tension, abs=1e-5)


def test_density_is_greatest_at_four_degrees():
    """3.98 degC, 999.97 kg/m^3 (handbook value, from memory)."""
    celsius = np.arange(0.0, 10.0, 0.02)
    density = [water_at(t + 273.15).density for t in celsius]
    assert celsius[int(np.argmax(density))] == pytest.approx(3.98, abs=0.03)
    assert max(density) == pytest.approx(999.97, abs=0.006)


@pytest.mark.parametrize(
    ("kelvin", "salinity", "says"),
    [
        *((kelvin, 0.0, "liquid") for kelvin in (273.05, 373.25, float("nan"), float("inf"))),
        *((*salt, "salt water") for salt in ((293.0, -0.01), (293.0, 0.13), (360.0, 0.03))),
    ],
)
def test_water_that_is_not_liquid_and_salt_water_beyond_its_tables_are_refused(
    kelvin, salinity, says
):
    with pytest.raises(ValueError, match=says):
        water_at(kelvin, salinity)


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_density_of_salt_water_follows_iapws_r13_08():
    """IAPWS R13-08 (TEOS-10) at 0.101325 MPa (package iapws); 1e-6, five times fresh water's."""
    worst = 0.0
    for t in np.linspace(274.0, 352.0, 9):
        for salinity in (0.001, 0.01, 0.03516504, 0.08, 0.12):
            published = SeaWater(T=t, P=0.101325, S=salinity).rho
            worst = max(worst, abs(water_at(t, salinity).density / published - 1.0))
    print("largest relative error", worst)
    assert worst < 1e-6


@pytest.mark.parametrize(
    ("celsius", "viscosity"), [(5.0, 1.56142e-6), (15.0, 1.18831e-6), (20.0, 1.05372e-6)]
)
def test_viscosity_of_sea_water_agrees_with_the_tables_of_towing_tanks(celsius, viscosity):
    """Kinematic viscosity at 3.5 % salt, ITTC 1963 tables (from memory); 1.5 % as stated."""
    sea = water_at(celsius + 273.15, 0.035)
    found = sea.viscosity / sea.density
    print(found / viscosity - 1.0)
    assert found == pytest.approx(viscosity, rel=0.015)


def test_no_salt_is_fresh_water_to_the_last_bit():
    assert water_at(295.0, 0.0) == water_at(295.0)


def test_soapy_water_has_the_surface_tension_it_is_given():
    soapy = water_at(293.15, 0.0, 0.030)
    assert soapy.surface_tension == 0.030
    assert soapy.density == water_at(293.15).density
    assert soapy.changed(temperature=5.0, surface_tension=0.003).surface_tension == 0.033
    assert soapy.words == "20 °C, surface tension 30 mN/m"


def cup(water: str = "", more: str = "", drill: float = 6.0) -> Case:
    text = cups.cup_text(drill, more=f"[water]\n{water}\n{more}")
    return parse_case(text, Path(), "cup")


def test_draft_in_salt_water_is_less_by_the_ratio_of_densities():
    """Archimedes: an upright cup displaces its mass; 1024.763 kg/m^3 by TEOS-10 at 35.165 g/kg."""
    salt, fresh = check(cup('salinity = "35.16504 g/kg"')), check(cup())
    assert salt.dry_draft / fresh.dry_draft == pytest.approx(998.207 / 1024.763, rel=1e-5)
    assert "fresh water" in repr(salt)
    assert "salt" not in repr(fresh)


def test_half_the_surface_tension_lets_half_the_head_open_a_narrow_hole():
    """2 sigma sin(theta) / (rho g a) for a narrow hole (Laplace); 1 % for gravity on the cap."""
    soapy = check(cup('surface_tension = "36.37 mN/m"', drill=1.0))
    clean = check(cup(drill=1.0))
    ratio = soapy.gate.breakthrough_head / clean.gate.breakthrough_head
    assert ratio == pytest.approx(0.5, rel=0.01)
    assert "clean water" in repr(soapy)


def test_uncertain_salt_has_a_share_in_the_time_and_plain_water_does_not_mention_it():
    plain = error_budget(cup(), "quasi-static")
    assert len(plain.contributions) == 7
    salty = error_budget(cup('salinity = "35 g/kg"'), "quasi-static")
    rows = {row.name: row for row in salty.contributions}
    assert rows["salinity"].uncertainty == pytest.approx(0.00175)
    assert rows["salinity"].effect != 0.0
    assert not rows["salinity"].averages_out


def test_uncertain_soap_decides_only_whether_it_starts():
    """Only the tension uncertain, at the edge of the gate: about half of the trials are held."""
    known = '[uncertainty]\nsurface_tension = "5 mN/m"\ncontact_angle = "0 deg"\nhole = "0 mm"'
    edge = cup('surface_tension = "40 mN/m"', known, drill=1.0)
    assert check(edge).gate.plugged is False
    budget = error_budget(edge, "quasi-static")
    rows = {row.name: row for row in budget.contributions}
    assert rows["surface_tension"].effect == 0.0
    assert rows["surface_tension"].averages_out


@pytest.mark.parametrize(
    ("water", "key", "allowed"),
    [
        ('salinity = "35"', "water.salinity", "35 g/kg"),
        ('salinity = "5 deg"', "water.salinity", "35 g/kg"),
        ('salinity = "200 g/kg"', "water.salinity", "120 g/kg"),
        ('surface_tension = "30"', "water.surface_tension", "mN/m"),
        ('salinity = "35 g/kg"\ntemperature = "90 degC"', "water.temperature", "80 degC"),
    ],
)
def test_what_no_water_is_gets_refused(water, key, allowed):
    with pytest.raises(CaseError) as refusal:
        cup(water)
    assert key in str(refusal.value)
    assert allowed in str(refusal.value)
