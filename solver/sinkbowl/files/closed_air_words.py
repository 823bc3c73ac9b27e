"""Air that was closed off inside the bowl, in words: when, and how large."""

from __future__ import annotations

from sinkbowl.common.shown import seconds


def closed_air_words(closed: tuple[float, float] | None, longest: float | None = None) -> str:
    """'42 mL of air closed off at 0.211 s'; empty where none was.

    Parameters
    ----------
    closed : time [s] at which air was first closed off, and how much [m^3]
    longest : time [s] beside which it stands
    """
    if closed is None:
        return ""
    time, volume = closed
    return f"{volume * 1e6:.3g} mL of air closed off at {seconds(time, longest)}"
