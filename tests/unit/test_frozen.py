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


def arrays_of(held: Any) -> list[np.ndarray]:
    """All arrays of a dataclass."""
    values = [getattr(held, field.name) for field in fields(held)]
    return [value for value in values if isinstance(value, np.ndarray)]


SHARED: dict[str, Callable[[], list[np.ndarray]]] = {
    "bowl": lambda: [*arrays_of(cup().bowl), cup().bowl.polygon],
    "hull": lambda: arrays_of(cup().bowl.outer_hull),
    "stability curve": lambda: [*arrays_of(stability_curve(cup())), stability_curve(cup()).heel],
    "flooding": lambda: arrays_of(flooding(top_heavy_cup())),
    "row of the map": lambda: arrays_of(shipped_rows()[0]),
    "surface": lambda: arrays_of(learnt().surface),
    "shipped tables": lambda: [numbers(REPEAT_RUNS), numbers(NOT_COMPUTED)],
}


@pytest.mark.parametrize("name", SHARED)
def test_arrays_of_what_is_shared_refuse_writing(name):
    """numpy's own flag."""
    arrays = SHARED[name]()
    assert arrays
    for array in arrays:
        with pytest.raises(ValueError, match="read-only"):
            array[...] = 0.0
