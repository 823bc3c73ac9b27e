"""Arrays that several hold: read-only, so that none of them changes what the others see."""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

AnyArray = TypeVar("AnyArray", bound=NDArray[Any])


def frozen(array: AnyArray) -> AnyArray:
    """The array itself where it is read-only, else a copy that is."""
    if array.flags.writeable:
        array = array.copy(order="K")
        array.setflags(write=False)
    return array


class FrozenArrays:
    """A frozen dataclass of this class makes the arrays in its fields read-only."""

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if isinstance(value, np.ndarray):
                object.__setattr__(self, name, frozen(value))
