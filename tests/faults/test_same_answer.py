"""The same bits however the kernels were compiled, and new ones where a source has changed."""

import json
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import sinkbowl
from console import python
from faults.killed_runs import differences

SINK = """
import sys
from pathlib import Path
from faults.killed_runs import sink
sink(Path(sys.argv[1]))
"""


@pytest.mark.slow
def test_one_thread_and_two_give_the_same_bits(tmp_path):
    """Stated tolerance: none; no sum is shared between threads."""
    for threads in ("1", "2"):
        names = ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")
        python(SINK, tmp_path / f"{threads}.h5", **dict.fromkeys(names, threads))
    assert differences(tmp_path / "1.h5", tmp_path / "2.h5") == []


@pytest.mark.slow
def test_kernels_just_compiled_and_kernels_from_the_cache_give_the_same_bits(tmp_path):
    cache = {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    python(SINK, tmp_path / "cold.h5", **cache)
    compiled = sorted((tmp_path / "cache").rglob("*.nbc"))
    assert len(compiled) > 25
    python(SINK, tmp_path / "warm.h5", **cache)
    assert sorted((tmp_path / "cache").rglob("*.nbc")) == compiled
    assert differences(tmp_path / "cold.h5", tmp_path / "warm.h5") == []


USE_KERNELS = """
import json
import numpy as np
from sinkbowl.flow.kernels.curvature import column_height
from sinkbowl.flow.kernels.interface import open_polygon
r, z, out, spare = np.arange(2.0), np.arange(2.0), np.zeros((8, 2)), np.zeros((8, 2))
open_polygon(r, z, np.zeros((1, 1, 3)), 0, 0, spare, out)
surface = np.array([[1.0, 1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.2, 0.0, 0.0]])
height = column_height(surface, np.ones((1, 12)), np.arange(12.0), 0, 5, 1)
hits = sum(sum(kernel.stats.cache_hits.values()) for kernel in (open_polygon, column_height))
print(json.dumps({"polygon": out[:4].tolist(), "height": height, "hits": hits}))
"""


class Copy:
    """A copy of the solver whose kernels are changed; compiled ones are kept beside it."""

    def __init__(self, folder: Path, cache: str) -> None:
        self.package = folder / "sinkbowl"
        shutil.copytree(Path(sinkbowl.__file__).parent, self.package)
        self._environment = {"PYTHONPATH": str(folder), cache: str(folder / "cache")}

    def change(self, kernels: str, before: str, after: str) -> None:
        source = self.package / "flow" / "kernels" / kernels
        text = source.read_text()
        assert text.count(before) == 1
        source.write_text(text.replace(before, after))

    def use(self) -> tuple[np.ndarray, list[Any], int]:
        """Corners, height, and how many kernels came from the cache."""
        told = json.loads(python(USE_KERNELS, **self._environment))
        return np.array(told["polygon"]), told["height"], told["hits"]


@pytest.mark.slow
@pytest.mark.parametrize("cache", ["XDG_CACHE_HOME", "NUMBA_CACHE_DIR"])
def test_a_changed_kernel_is_compiled_anew(tmp_path, cache):
    """A callee in another file, then a constant; numba alone looks at a kernel's own file only."""
    copy = Copy(tmp_path, cache)
    square, height, hits = copy.use()
    assert square.tolist() == [[0, 0], [1, 0], [1, 1], [0, 1]]
    assert hits == 0
    assert copy.use()[2] == 2
    copy.change("polygon.py", "out[0, 1] = r0, z0", "out[0, 1] = 2.0 * r1, z0")
    changed, same_height, hits = copy.use()
    assert changed.tolist() == [[2, 0], [1, 0], [1, 1], [0, 1]]
    assert (same_height, hits) == (height, 0)
    copy.change("curvature.py", "LONGEST = 6", "LONGEST = 2")
    again, other_height, hits = copy.use()
    assert again.tolist() == changed.tolist()
    assert other_height != height
    assert hits == 0
