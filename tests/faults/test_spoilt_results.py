"""Results and indexes with spoilt bytes: told in one message, never read, no crash, no hang."""

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import h5py
import pytest

from console import python
from faults.killed_runs import CUP
from sinkbowl.common.errors import ResultError
from sinkbowl.files.record import KIND, SCHEMA_VERSION
from sinkbowl.files.result import read_result
from sinkbowl.files.safe_reading import USER_BLOCK
from sinkbowl.sweeps.index import INDEX, Sweep, read_sweep, write_index
from synthetic import CASE_TEXT, seal_again, write_result

COUNT = 1000


@pytest.mark.slow
def test_a_thousand_spoilt_results_are_all_refused(tmp_path):
    """Read in child processes, so that a crash or a hang of one of them is seen."""
    script = Path(__file__).with_name("spoilt_results.py").read_text(encoding="utf-8")
    assert json.loads(python(script, tmp_path, COUNT, 1)) == {"refused": COUNT}


def flip(content: bytes, k: int) -> bytes:
    return content[:k] + bytes([content[k] ^ 4]) + content[k + 1 :]


SPOILT: dict[str, Callable[[bytes], bytes]] = {
    "a bit of the seal": lambda content: flip(content, 100),
    "the first letter": lambda content: flip(content, 0),
    "a bit of the superblock": lambda content: flip(content, USER_BLOCK + 20),
    "a bit in the centre": lambda content: flip(content, len(content) // 2),
    "the last bit": lambda content: flip(content, len(content) - 1),
    "cut in the centre": lambda content: content[: len(content) // 2],
    "only the seal": lambda content: content[:USER_BLOCK],
    "a byte too many": lambda content: content + b"\0",
    "without its seal": lambda content: content[USER_BLOCK:],
    "empty": lambda _: b"",
}

READERS = {
    "compare": ("run.h5",),
    "film": ("run.h5", "-o", "run.mp4"),
    "report": ("run.h5", "-o", "run.html"),
    "export": ("run.h5", "-o", "run.vtu"),
    "curves": ("run.h5",),
    "run": ("cup.toml", "-o", "run.h5", "--resume"),
}


@pytest.mark.parametrize("how", SPOILT)
def test_every_command_refuses_a_spoilt_result_in_one_line(tmp_path, monkeypatch, refused, how):
    monkeypatch.chdir(tmp_path)
    path = write_result(Path("run.h5"), frames=2, cells=(6, 8), steps=20)
    Path("cup.toml").write_text(CASE_TEXT)
    spoilt = SPOILT[how](path.read_bytes())
    path.write_bytes(spoilt)
    before = sorted(tmp_path.iterdir())
    for command, arguments in READERS.items():
        shown = refused(command, *arguments)
        assert shown.startswith("sinkbowl: run.h5: "), shown
        assert "damaged" in shown
    assert sorted(tmp_path.iterdir()) == before
    assert path.read_bytes() == spoilt


def test_a_result_that_another_program_changed_is_refused(tmp_path):
    """One value in a valid HDF5 file; h5py alone would read it."""
    path = write_result(tmp_path / "run.h5")
    with h5py.File(path, "r+") as file:
        file["history/draft"][5] += 1e-3
    with pytest.raises(ResultError, match="changed by another program"):
        read_result(path)


def test_a_result_of_another_schema_says_which(tmp_path):
    path = write_result(tmp_path / "run.h5")
    seal_again(path, KIND, "99")
    with pytest.raises(ResultError, match=f"has schema 99, this version reads {SCHEMA_VERSION}"):
        read_result(path)


def test_the_seal_is_the_sum_that_a_shell_gives(tmp_path):
    """Checked with the sha256sum of GNU coreutils."""
    path = write_result(tmp_path / "run.h5")
    told = subprocess.getoutput(f"tail -c +{USER_BLOCK + 1} '{path}' | sha256sum")
    first, _, digest = path.read_bytes()[:USER_BLOCK].decode().rstrip().split("\n")
    assert first == f"sinkbowl result, schema {SCHEMA_VERSION}"
    assert told.split()[0] == digest


@pytest.mark.parametrize("how", SPOILT)
def test_a_spoilt_index_of_a_sweep_is_refused(tmp_path, refused, how, written):
    write_index(Sweep(tmp_path, "holes", CUP, "", ("hole.diameter",), ()))
    assert read_sweep(tmp_path).title == "holes"
    index, case = tmp_path / INDEX, written(CUP)
    index.write_bytes(SPOILT[how](index.read_bytes()))
    shown = refused("sweep", case, "--over", "hole.diameter=40mm,50mm", "-o", tmp_path)
    assert shown.startswith(f"sinkbowl: {index}: ")
