"""A few hundred spoilt inputs of the commands: each is done or refused with a message.

`command_fuzz.py` says how, and gives thousands when it is called by itself.
"""

import pytest

from faults.command_fuzz import SHORT_ESTIMATE, fuzz
from sinkbowl.flow import layout
from sinkbowl.reduced.attribution import attribute
from sinkbowl.running import estimate

COUNTS = {
    "check": 50,
    "run": 25,
    "compare": 6,
    "curves": 12,
    "fit": 16,
    "export": 100,
    "film": 12,
    "report": 4,
}


@pytest.mark.slow
@pytest.mark.parametrize("command", COUNTS)
def test_spoilt_inputs_never_break_a_command(command, tmp_path, monkeypatch):
    """Exit status 0, or 1 or 2 with a message; what the handler at the top caught is a failure."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    with monkeypatch.context() as kept:
        kept.setattr(layout, "MOST_CELLS", layout.MOST_CELLS)  # put back after the fuzz sets it
        kept.setattr(attribute, "STAGES", attribute.STAGES)
        for name in SHORT_ESTIMATE:
            kept.setattr(estimate, name, getattr(estimate, name))
        tally = fuzz(tmp_path / "inputs", COUNTS[command], 11, [command])[command]
    print(tally)
    assert tally.failures == {}
    assert tally.ends["done"] > 0
    assert tally.ends["refused"] > 0
