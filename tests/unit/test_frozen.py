"""Arrays that callers share refuse writing: one of them cannot spoil what the others get."""

from collections.abc import Callable
from dataclasses import fields
from typing import Any

import numpy as np
import pytest

from cups import cup, top_heavy_cup
from sinkbowl.corrected.flow_map import shipped_rows
from sinkbowl.corrected.surface import learnt
from sinkbowl.scatter.interval import NOT_COMPUTED, REPEAT_RUNS, numbers
from sinkbowl.statics.flooding import flooding
from sinkbowl.statics.stability import stability_curve

SHARED: dict[str, Callable[[], Any]] = {
    "bowl": lambda: cup().bowl,
    "hull": lambda: cup().bowl.outer_hull,
    "stability curve": lambda: stability_curve(cup()),
    "flooding": lambda: flooding(top_heavy_cup()),
    "row of the map": lambda: shipped_rows()[0],
    "surface": lambda: learnt().surface,
}


def refuses(array: np.ndarray) -> None:
    with pytest.raises(ValueError, match="read-only"):
        array[...] = 0.0


@pytest.mark.parametrize("name", SHARED)
def test_arrays_of_what_is_shared_refuse_writing(name):
    """numpy's own flag."""
    held = SHARED[name]()
    arrays = [getattr(held, field.name) for field in fields(held)]
    arrays = [array for array in arrays if isinstance(array, np.ndarray)]
    assert arrays
    for array in arrays:
        refuses(array)


def test_so_do_heels_and_shipped_tables():
    curve = stability_curve(cup())
    for array in (curve.heel, cup().bowl.polygon, numbers(REPEAT_RUNS), numbers(NOT_COMPUTED)):
        refuses(array)
