"""Water swinging between a tube and the ring around it."""

from proofs import hold
from sinkbowl.proof import u_tube


def test_the_added_length_of_a_u_tube_has_its_textbook_period():
    """T = 2 pi sqrt(L/(2g)), any textbook of fluid mechanics (seen); 0.5 %."""
    hold(u_tube.length_rung)
