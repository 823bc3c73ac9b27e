"""What the report says in words and figures, without any pictures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sinkbowl.common.sinking import EVENT_WORDS
from sinkbowl.files.result import Result
from sinkbowl.scatter.interval import told_time
from sinkbowl_post.comparing.compare import Comparison
from sinkbowl_post.measured.overlay import Overlay
from sinkbowl_post.measured.trace_rms import rms_words, trace_rms
from sinkbowl_post.style import seconds

Rows = list[tuple[str, str]]


@dataclass(frozen=True)
class Story:
    """Sentences and table rows of the report; every row a name and what belongs to it."""

    lead: str
    times: list[tuple[str, ...]]
    measured: list[str]
    events: Rows
    health: Rows
    provenance: Rows


def tell(result: Result, comparison: Comparison, overlay: Overlay | None = None) -> Story:
    """The story of a run, in progress or ended, perhaps with what was measured of its bowl."""
    times = [tuple(row) for row in comparison.table.rows]
    if overlay is not None:
        times.append(overlay.row(comparison.flow.sinking_time))
    return Story(
        lead=_lead(result),
        times=times,
        measured=[] if overlay is None else _measured(overlay, comparison),
        events=[
            (EVENT_WORDS[name], _when(name, t, result))
            for name, t in sorted(result.events.items(), key=lambda event: event[1])
            if name in EVENT_WORDS and name != "start"
        ],
        health=_health(result),
        provenance=[
            ("result file", result.path.name),
            ("status", result.status),
            ("made by", f"sinkbowl {result.attrs['tool_version']}"),
            ("case, SHA-256", str(result.attrs["case_hash"])),
            ("to make it again", f"sinkbowl run CASE -o {result.path.name}"),
        ],
    )


def _measured(overlay: Overlay, comparison: Comparison) -> list[str]:
    """What is to be said of the trials or the trace, in sentences."""
    told = [overlay.suspect_words]
    if overlay.trace is not None:
        told.append(
            rms_words(trace_rms(overlay.trace, {"flow": comparison.flow, **comparison.models}))
        )
    if overlay.left_out:
        told.append(f"{overlay.left_out} trials of the table have another hole or mass.")
    return [words for words in told if words]


def _when(name: str, t: float, result: Result) -> str:
    """When something happened; the rim's moment is that of all releases, with its interval."""
    if name == "rim_under" and result.sinking_time is not None:
        return told_time(result.sinking_time, result.interval)
    return seconds(t)


def _lead(result: Result) -> str:
    if result.sinking_time is None:
        return f"The rim has not passed under: {result.outcome or result.status}."
    told = told_time(result.sinking_time, result.interval)
    words = f" {result.interval.words}" if result.interval else ""
    return f"Its rim passes under {told} after release.{words}"


def _health(result: Result) -> Rows:
    history = result.history
    if len(history["t"]) == 0:
        return [("time steps", "none")]
    water = history["water_volume"][0]
    return [
        (
            "time steps",
            f"{len(history['t'])}, {1e3 * np.median(history['dt']):.3g} ms the usual one",
        ),
        ("water lost or won", f"{np.abs(history['volume_error']).max():.1e} of all the water"),
        (
            "momentum not accounted for at the end",
            f"{100 * abs(history['momentum_error'][-1]):.2g} % of the weight's impulse",
        ),
        (
            "water moved to keep fractions in range",
            f"{history['clipped_volume'][-1] / water:.1e} of all the water",
        ),
        ("iterations of the pressure solve", f"{history['iterations'].mean():.1f} a step"),
    ]
