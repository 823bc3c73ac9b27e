"""Frames drawn by several processes are those of one, and Ctrl-C ends them all without a trace."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import psutil
import pytest

from console import last_line
from sinkbowl.files.result import read_result
from sinkbowl_post.filming.rendering import draw_frames
from sinkbowl_post.filming.script import FilmOptions, script_of
from synthetic import write_faster_result, write_result

PATIENCE = 120.0  # s, for a busy machine


@pytest.mark.slow
@pytest.mark.parametrize("runs", [1, 2])
def test_two_processes_draw_the_same_bytes_as_one(tmp_path, runs):
    results = [
        read_result(write_result(tmp_path / "a.h5", frames=4)),
        read_result(write_faster_result(tmp_path / "b.h5", "35 mm", 1.5, frames=4)),
    ]
    wishes = FilmOptions("vorticity", tracers=True, model="heave", half_cut=True)
    script = script_of(results[:runs], wishes)
    instants = [0, 1, 3]
    alone = [(k, pixels.tobytes()) for k, pixels in draw_frames(script, instants, 1)]
    together = [(k, pixels.tobytes()) for k, pixels in draw_frames(script, instants, 2)]
    assert [k for k, _ in alone] == instants
    assert alone == together
    assert len({pixels for _, pixels in alone}) == len(instants)


@pytest.mark.slow
def test_frames_come_in_the_films_order_though_more_are_drawn_ahead(tmp_path):
    script = script_of(
        [read_result(write_result(tmp_path / "a.h5", frames=9))], FilmOptions("none")
    )
    drawn = [(k, np.array(pixels)) for k, pixels in draw_frames(script, range(9), 2)]
    assert [k for k, _ in drawn] == list(range(9))
    assert len({pixels.tobytes() for _, pixels in drawn}) == 9


@pytest.mark.slow
def test_ctrl_c_ends_every_process_and_leaves_no_file(tmp_path):
    write_result(tmp_path / "run.h5", frames=300)
    (tmp_path / "out").mkdir()
    script = "from sinkbowl_post.cli import main; main({!r})"
    arguments = ["film", str(tmp_path / "run.h5"), "-o", str(tmp_path / "out/film.mp4")]
    arguments += ["--half-cut", "--workers", "2"]
    film = subprocess.Popen(
        [sys.executable, "-c", script.format(arguments)],
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    try:
        begun = time.monotonic()
        while not _bytes_written(tmp_path / "out"):
            assert film.poll() is None, film.stderr.read() if film.stderr else ""
            assert time.monotonic() - begun < PATIENCE
            time.sleep(0.1)
        children = psutil.Process(film.pid).children(recursive=True)
        assert len(children) >= 3  # two that draw, one that encodes
        os.killpg(film.pid, signal.SIGINT)  # as a terminal does
        _, said = film.communicate(timeout=PATIENCE)
    finally:
        if film.poll() is None:
            os.killpg(film.pid, signal.SIGKILL)
    assert film.returncode == 1
    assert last_line(said, "film, ") == "sinkbowl: stopped by hand"
    assert list((tmp_path / "out").iterdir()) == []
    _, alive = psutil.wait_procs(children, timeout=10)
    assert alive == []


def _bytes_written(folder: Path) -> int:
    """Size of what lies in the hidden folder aside."""
    return sum(file.stat().st_size for file in folder.rglob("film.mp4"))
