"""What a workshop makes ballast rings of."""

from __future__ import annotations

MATERIALS = {
    "lead": 11_340.0,
    "brass": 8_500.0,
    "stainless": 7_900.0,
    "steel": 7_850.0,
}
"""Name and density [kg/m^3] (handbook values, from memory; brass 8400 to 8700 by its zinc)."""

CAUTION = (
    "Lead is poisonous: wear gloves, make no dust, wash your hands, keep it from children and "
    "out of the drain. Local rules may forbid it."
)
