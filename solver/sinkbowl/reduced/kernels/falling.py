"""The falling body's equation; see reduced/falling.py."""

from sinkbowl.common import GRAVITY
from sinkbowl.compiled import part

from .bowl import DRAG
from .heave import BOIL, DRAFT, FLOW, SPEED, WATER, place_of, residuals_at
from .levels import between, volume_and_area


@part
def falling_rates(bowl, y, rates):
    """Rates of draft and speed; nothing else changes."""
    draft, speed = y[DRAFT], y[SPEED]
    displaced, _ = volume_and_area(bowl.outer, draft)
    water, _ = volume_and_area(bowl.inner, min(draft, bowl.rim))
    drag = between(bowl.sea, DRAG, place_of(draft, bowl)) * speed * abs(speed)
    residual, _ = residuals_at(bowl, draft)
    weight = GRAVITY * (bowl.mass - bowl.density * (displaced - water))
    rates[DRAFT] = speed
    rates[SPEED] = (weight - drag + residual) / (bowl.mass + bowl.ring_mass)
    rates[WATER] = rates[FLOW] = rates[BOIL] = 0.0
