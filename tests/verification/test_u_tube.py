"""Water swinging between a tube and the ring around it."""

from sinkbowl.verification import u_tube
from verified import hold


def test_the_added_length_of_a_u_tube_has_its_textbook_period():
    """T = 2 pi sqrt(L/(2g)), any textbook of fluid mechanics (seen); 0.5 %."""
    hold(u_tube.length_verification)
