"""What `check` knows of a bowl and every other command should say too.

One story in all commands: a run, which leaves surface tension out unless the case asks for it and
keeps the bowl upright, names what `check` says of the same bowl.
"""

from __future__ import annotations

from sinkbowl.case.case import Case
from sinkbowl.design.cautions import density_warning
from sinkbowl.design.checking import verdict
from sinkbowl.reduced.start import starts_anyway
from sinkbowl.statics.capillarity import hole_gate


def run_notes(case: Case) -> tuple[str, ...]:
    """What `check` says of a bowl that a run treats otherwise, in sentences."""
    found = [density_warning(case)]
    gate = hole_gate(case)
    counted = case.flow.surface_tension or case.base_gone
    if gate.plugged and not counted and not starts_anyway(case, gate):
        found.append(
            "`check` gives this hole as plugged: surface tension holds "
            f"{gate.breakthrough_head * 1e3:.2g} mm of head, {gate.head * 1e3:.2g} mm act on it. "
            "This run leaves out surface tension; flow.surface_tension = true includes it."
        )
    if verdict(case) == "tips":
        found.append("`check` gives this bowl as tipping. The run keeps it upright.")
    return tuple(note for note in found if note)
