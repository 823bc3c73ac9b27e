"""Read-only arrays, safe to share."""

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

AnyArray = TypeVar("AnyArray", bound=NDArray[Any])


def frozen(array: AnyArray) -> AnyArray:
    """The array itself if it is read-only, else a read-only copy."""
    if array.flags.writeable:
        array = array.copy(order="K")
        array.setflags(write=False)
    return array


class FrozenArrays:
    """Base of frozen dataclasses: makes the arrays in their fields read-only."""

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if isinstance(value, np.ndarray):
                object.__setattr__(self, name, frozen(value))
