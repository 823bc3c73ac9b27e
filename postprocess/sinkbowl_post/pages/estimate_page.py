"""What ``sinkbowl run --estimate`` prints: figures for scripts, a few lines for people."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sinkbowl.running.estimate import RunEstimate


def estimate_figures(told: RunEstimate) -> dict[str, Any]:
    """An estimate as plain numbers, units in the keys."""
    across, up = told.work.cells
    return {
        "cells": across * up,
        "cells_r": across,
        "cells_z": up,
        "steps": told.work.steps,
        "duration_s": told.work.duration,
        "wall_seconds": told.seconds,
        "processor_seconds": told.processor_seconds,
        "seconds_per_step": told.seconds_per_step,
        "steps_timed": told.steps_timed,
    }


def estimate_page(told: RunEstimate) -> str:
    """An estimate in words."""
    across, up = told.work.cells
    return (
        f"{across * up} cells ({across} x {up}), about {told.work.steps} steps "
        f"to t = {told.work.duration:.3g} s\n"
        f"about {_rounded(told.seconds)} as busy as this machine is now "
        f"({_rounded(told.processor_seconds)} with nothing else to do); "
        f"{1e3 * told.seconds_per_step:.2g} ms a step, measured over {told.steps_timed}"
    )


def _rounded(seconds: float) -> str:
    """A time no finer than it is known."""
    return f"{seconds:.2g} s" if seconds < 100.0 else f"{seconds / 60.0:.2g} min"
