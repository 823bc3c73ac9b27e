"""A step of Newton's method inside a shrinking bracket."""

from sinkbowl.compiled import part


@part
def newton_step(place, excess, slope, low, high):
    """The next place towards the root of an increasing function, and the ends of the bracket.

    excess, slope : of the function at the place

    Half way between the ends if Newton's step leaves the bracket, or the slope is 0.
    """
    if excess > 0.0:
        high = place
    else:
        low = place
    following = place - excess / slope if slope > 0.0 else 0.5 * (low + high)
    if not low <= following <= high:
        following = 0.5 * (low + high)
    return following, low, high
