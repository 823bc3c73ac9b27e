"""How far each model's draft is from a measured trace, as a root mean square."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from sinkbowl.common.sinking import Sinking
from sinkbowl_post.measured.measured import Trace


def trace_rms(trace: Trace, curves: Mapping[str, Sinking]) -> dict[str, float | None]:
    """Root mean square of model less measured draft [m], by the names of the curves.

    Every curve is compared at the same instants: from release until the first of them has its rim
    under, past which their drafts mean different things. None where no instant lies there.
    """
    ends = [curve.events.get("rim_under", float(curve.t[-1])) for curve in curves.values()]
    seen = (trace.t >= 0.0) & (trace.t <= min(ends))
    if not seen.any():
        return dict.fromkeys(curves)
    t, draft = trace.t[seen], trace.draft[seen]
    return {
        name: float(np.sqrt(np.mean((np.interp(t, curve.t, curve.draft) - draft) ** 2)))
        for name, curve in curves.items()
    }


def rms_words(rms: Mapping[str, float | None]) -> str:
    """A sentence; empty where nothing could be compared."""
    told = [
        f"{'flow solver' if name == 'flow' else name} {value * 1e3:.2g} mm"
        for name, value in rms.items()
        if value is not None
    ]
    return f"Off the trace, rms of the draft: {', '.join(told)}." if told else ""
