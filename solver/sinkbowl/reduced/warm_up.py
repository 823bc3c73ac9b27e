"""Call of all kernels of the reduced models, to compile them; see running/compiling.py."""

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.reduced.discharge import law_of_equal
from sinkbowl.reduced.heave import first_state
from sinkbowl.reduced.kernels.filling import fill
from sinkbowl.reduced.kernels.hole import flow_of_all, jet_of_all
from sinkbowl.reduced.kernels.integration import HEAVE, ROW
from sinkbowl.reduced.legs import integrate, terms_along
from sinkbowl.reduced.tables import tabulate

FLOW, HEAD, REYNOLDS = 1e-4, 1e-2, 1e4
"""Arbitrary values [m^3/s], [m]."""


def warm_up_models(case: Case) -> None:
    """Integrate for no time, and evaluate the discharge law."""
    tables, law = tabulate(case), law_of_equal(case)
    bowl, state = tables.bowl, first_state(tables)
    integrate(HEAVE, bowl, state, False, latest=0.0)
    terms_along(bowl, np.zeros(1), state[None, :])
    fill(bowl, False, HEAD, np.zeros(1), np.zeros((1, ROW)), np.zeros(ROW))
    flow_of_all(law.rows, HEAD)
    jet_of_all(law.rows, np.zeros(1), FLOW, 0.0, bowl.rim)
    law.flow(HEAD)
    law.jet(FLOW, 0.0, bowl.rim)
    law.coefficient_at(REYNOLDS)
    law.coefficient_of_flow(FLOW)
