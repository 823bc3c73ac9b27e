"""Compiled kernels on disk: cut short they are compiled again, on a full disk they are not kept."""

import importlib.util
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
import pytest

from faults.test_places import mounted
from sinkbowl.compiled import cache

SOURCE = "def double(x):\n    return 2.0 * x\n"

pytestmark = pytest.mark.skipif(
    bool(numba.config.DISABLE_JIT), reason="nothing is compiled, so nothing is kept"
)


@pytest.fixture
def fresh(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[], Any]:
    """Makes the kernel anew, as another process would: it knows what is on disk alone."""
    source = tmp_path / "doubling.py"
    source.write_text(SOURCE)
    monkeypatch.setattr(numba.config, "CACHE_DIR", str(tmp_path / "kept"))
    monkeypatch.setattr(cache, "unkept", [])

    def make() -> Any:
        spec = importlib.util.spec_from_file_location("doubling", source)
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        return cache.kept(
            lambda function, **options: numba.njit(**options)(function), module.double
        )

    return make


def hits(kernel: Any) -> int:
    """How often a kernel came from the disk."""
    return sum(kernel.stats.cache_hits.values())


@pytest.mark.parametrize("suffix", [".nbi", ".nbc"])
@pytest.mark.parametrize("kept", [0, 1, 20, -1])
def test_a_kernel_cut_short_on_disk_is_compiled_again_and_kept_whole(fresh, tmp_path, suffix, kept):
    assert fresh()(2.0) == 4.0
    (file,) = (tmp_path / "kept").rglob(f"*{suffix}")
    file.write_bytes(file.read_bytes()[:kept])
    after = fresh()
    assert after(2.0) == 4.0
    assert hits(after) == 0
    third = fresh()
    assert third(2.0) == 4.0
    assert hits(third) == 1
    assert cache.unkept == []


def test_a_full_disk_costs_the_cache_and_nothing_else(fresh, tmp_path):
    folder = tmp_path / "kept"
    folder.mkdir()
    for disk in mounted(folder, "size=16k"):
        kernel = fresh()
        (disk / "filler").write_bytes(b"x" * 12_000)
        assert kernel(2.0) == 4.0
        assert kernel(3) == 6.0
        assert any("No space left" in why for why in cache.unkept)
        assert list(disk.rglob("*.nbc")) == []


def test_a_cut_kernel_on_a_read_only_disk_is_compiled_each_time(fresh, tmp_path, monkeypatch):
    assert fresh()(2.0) == 4.0
    for file in (tmp_path / "kept").rglob("*.nbi"):
        file.write_bytes(b"")

    def refused(*_: object) -> None:
        raise PermissionError(30, "Read-only file system")

    monkeypatch.setattr("numba.core.caching.IndexDataCacheFile._open_for_write", refused)
    assert fresh()(2.0) == 4.0
    assert any("Read-only" in why for why in cache.unkept)


def test_without_any_folder_to_write_kernels_are_compiled_for_this_process(fresh, monkeypatch):
    """Numba looks in several places; none can be made."""

    def refused(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("numba.core.caching._CacheLocator.ensure_cache_path", refused)
    assert fresh()(2.0) == 4.0
    assert len(cache.unkept) == 1
