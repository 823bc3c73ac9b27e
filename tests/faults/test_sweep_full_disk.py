"""A sweep for which the disk has no room: told in a sentence, and gone on with when there is."""

import os
from collections.abc import Callable
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import pytest

from coarse_cups import thick_cup
from faults.test_places import mounted
from sinkbowl.common.errors import ResultError
from sinkbowl.sweeps.index import INDEX, read_sweep
from sinkbowl.sweeps.sweeping import sweep

OVER = {"hole.diameter": "36mm:44mm:3"}


class Here(Executor):
    """Computes in this very process, at once."""

    def __init__(self, before: Callable[[], None] = lambda: None) -> None:
        self._before = before

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        try:
            self._before()
            future.set_result(fn(*args, **kwargs))
        except Exception as error:
            future.set_exception(error)
        return future


def fill(disk: Path, spare: int) -> Path:
    """A file that leaves so many bytes of a disk."""
    filler = disk / "filler"
    filler.write_bytes(b"x" * max(os.statvfs(disk).f_bavail * 4096 - spare, 0))
    return filler


@pytest.mark.slow
def test_a_sweep_on_a_full_disk_is_told_and_gone_on_with(tmp_path):
    """Room for the first index, and then for nothing more."""
    case = thick_cup(1500)
    for disk in mounted(tmp_path, "size=60m"):
        folder = disk / "holes"
        fillers: list[Path] = []

        def full(disk: Path = disk, fillers: list[Path] = fillers) -> None:
            if not fillers:
                fillers.append(fill(disk, 4096))

        with pytest.raises(ResultError, match=r"index\.h5: cannot be written \(No space left") as e:
            sweep(case, OVER, folder, executor=Here(full))
        assert "HDF5" not in str(e.value)
        assert "errno" not in str(e.value)
        assert [run.status for run in read_sweep(folder).runs] == ["waiting"] * 3
        left = {path.name for path in folder.iterdir()} - {INDEX, ".lock"}
        assert all(name.startswith(".sweep-") for name in left), left
        fillers[0].unlink()
        done = sweep(case, OVER, folder, executor=Here())
        assert [run.status for run in done.runs] == ["finished"] * 3, done.runs
        names = {path.name for path in folder.iterdir()}
        assert names == {INDEX, ".lock", *(run.file for run in done.runs)}


def test_a_disk_that_is_full_from_the_start_is_told(tmp_path):
    case = thick_cup(1500)
    for disk in mounted(tmp_path, "size=64k"):
        (disk / "holes").mkdir()
        fill(disk, 4096)
        with pytest.raises(ResultError, match=r"cannot be (written|used) \(No space left"):
            sweep(case, OVER, disk / "holes", executor=Here())
        assert not (disk / "holes" / INDEX).exists()
