"""Salt and soap in the tub: what they change for a bowl."""

from pathlib import Path

import pytest

import cups
from sinkbowl.case.case import Case, parse_case
from sinkbowl.common.errors import CaseError
from sinkbowl.design.budget.uncertainty import error_budget
from sinkbowl.design.checking import check


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
