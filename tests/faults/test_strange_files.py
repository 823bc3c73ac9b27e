"""Files that somebody else made: nothing outside is written, nothing foreign is read."""

import os
from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np
import pytest

from faults.killed_runs import CUP
from sinkbowl.common.errors import ResultError
from sinkbowl.files.checkpoint import save
from sinkbowl.files.result import read_result
from sinkbowl.files.safe_writing import make_anew
from sinkbowl.running.ensemble_runs import Board
from sinkbowl.sweeps.index import INDEX, KIND, SCHEMA_VERSION, Sweep, read_sweep, write_index
from synthetic import CASE_TEXT, edited, seal_again, write_result

PRECIOUS = b"sixteen letters." * 40  # content of a file that belongs to the user and to no run


def external(file: h5py.File, name: str, precious: Path) -> None:
    old = file[name]
    shape, dtype = old.shape, old.dtype
    del file[name]
    size = int(np.prod(shape)) * dtype.itemsize
    outside = [(str(precious), 0, max(size, 1))]
    file.create_dataset(name, shape=shape, dtype=dtype, external=outside)


def virtual(file: h5py.File, name: str, precious: Path) -> None:
    shape, dtype = file[name].shape, file[name].dtype
    del file[name]
    layout = h5py.VirtualLayout(shape=shape, dtype=dtype)
    layout[...] = h5py.VirtualSource(str(precious), "secret", shape=shape)
    file.create_virtual_dataset(name, layout)


def soft_link(file: h5py.File, name: str, _: Path) -> None:
    file.move(name, "elsewhere")
    file[name] = h5py.SoftLink("/elsewhere")


def external_link(file: h5py.File, name: str, precious: Path) -> None:
    del file[name]
    file[name] = h5py.ExternalLink(str(precious), "/secret")


def second_name(file: h5py.File, name: str, _: Path) -> None:
    file["another"] = file[name]


def ring(file: h5py.File, name: str, _: Path) -> None:
    file[name].parent["ring"] = file["/"]


def foreign_filter(file: h5py.File, name: str, _: Path) -> None:
    """LZF is h5py's own, not HDF5's: as good as a filter of a plugin."""
    shape, dtype = file[name].shape, file[name].dtype
    del file[name]
    file.create_dataset(name, shape=shape, dtype=dtype, chunks=True, compression="lzf")


def references(file: h5py.File, name: str, _: Path) -> None:
    del file[name]
    file.create_dataset(name, shape=(2,), dtype=h5py.ref_dtype)


WAYS: dict[str, Callable[[h5py.File, str, Path], None]] = {
    function.__name__: function
    for function in (
        external,
        virtual,
        soft_link,
        external_link,
        second_name,
        ring,
        foreign_filter,
        references,
    )
}

PLACES = ("history/draft", "frames/pressure", "events/t", "checkpoint/water/level")


def result_with_checkpoint(path: Path, status: str) -> Path:
    """A made-up result that also holds a checkpoint."""
    from dataclasses import dataclass

    @dataclass
    class Water:
        level: np.ndarray

    write_result(path, frames=2, cells=(6, 8), steps=20, status=status)
    with edited(path) as file:
        save(file.require_group("checkpoint"), {"water": Water(np.linspace(0.0, 1.0, 16))})
    return path


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("way", WAYS)
def test_a_result_that_leads_elsewhere_is_refused_by_all_and_nothing_is_written(
    tmp_path, monkeypatch, way, place, refused
):
    """Every file is sealed again, as by someone who means harm."""
    monkeypatch.chdir(tmp_path)
    precious = tmp_path / "diary.txt"
    precious.write_bytes(PRECIOUS)
    path = result_with_checkpoint(Path("run.h5"), "running")
    Path("cup.toml").write_text(CASE_TEXT)
    with edited(path) as file:
        WAYS[way](file, place, precious)
    before = path.read_bytes()
    for command, *arguments in (
        ("run", "cup.toml", "-o", "run.h5", "--resume"),
        ("compare", "run.h5"),
        ("export", "run.h5", "-o", "run.csv"),
    ):
        shown = refused(command, *arguments)
        assert shown.startswith("sinkbowl: run.h5: is not a readable result file"), shown
        assert shown.count("\n") == 1
    assert precious.read_bytes() == PRECIOUS
    assert path.read_bytes() == before
    assert {other.name for other in tmp_path.iterdir()} == {"run.h5", "cup.toml", "diary.txt"}


def test_a_result_with_a_checkpoint_of_its_own_is_read(tmp_path):
    path = result_with_checkpoint(tmp_path / "run.h5", "running")
    assert read_result(path).status == "running"


@pytest.mark.parametrize("way", WAYS)
def test_an_index_of_a_sweep_that_leads_elsewhere_is_refused(tmp_path, way):
    write_index(Sweep(tmp_path, "holes", CUP, "", ("hole.diameter",), ()))
    index, precious = tmp_path / INDEX, tmp_path / "diary.txt"
    precious.write_bytes(PRECIOUS)
    with h5py.File(index, "r+") as file:
        WAYS[way](file, "runs/sinking_time", precious)
    seal_again(index, KIND, SCHEMA_VERSION)
    with pytest.raises(ResultError, match="is not a readable index"):
        read_sweep(tmp_path)
    assert precious.read_bytes() == PRECIOUS


@pytest.mark.parametrize("link", [os.symlink, os.link], ids=["symbolic", "hard"])
def test_a_link_under_a_hidden_name_is_not_followed_or_refused_in_a_sentence(
    tmp_path, link, refused, written
):
    """Of a sweep's index, a working file, a lock, and the board of an ensemble, which is new."""
    precious, case, folder = tmp_path / "diary.txt", written(CUP), tmp_path / "sweep"
    precious.write_bytes(PRECIOUS)
    folder.mkdir()
    link(precious, folder / f".{INDEX}.new")
    write_index(Sweep(folder, "holes", CUP, "", ("hole.diameter",), ()))
    assert read_sweep(folder).title == "holes"
    assert not (folder / INDEX).is_symlink()
    link(precious, tmp_path / "run.h5.part")
    assert "run.h5.part: is a link" in refused("run", case, "-o", tmp_path / "run.h5")
    link(precious, folder / ".lock")
    over = ("--over", "hole.diameter=40mm,50mm")
    assert ".lock: is a link" in refused("sweep", case, *over, "-o", folder)
    link(precious, tmp_path / ".run.h5-progress")
    Board(tmp_path / ".run.h5-progress", 3).shares[:] = 1.0
    assert precious.read_bytes() == PRECIOUS


def test_a_new_file_is_never_made_through_a_link_to_nothing(tmp_path):
    os.symlink(tmp_path / "later", tmp_path / "name")
    make_anew(tmp_path / "name").close()
    assert not (tmp_path / "later").exists()
