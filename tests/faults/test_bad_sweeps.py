"""Wrong sweeps on the command line, and what a sweep with failures prints."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from console import call
from sinkbowl.running.sweep_index import Sweep, SweepRun
from sinkbowl.running.sweep_plan import Over

CUP = """
title = "Coarse cup"
[bowl]
shape = "cup"
radius = "50 mm"
height = "60 mm"
wall = "10 mm"
base = "10 mm"
mass = "500 g"
[hole]
diameter = "40 mm"
[flow]
cell = "10 mm"
"""
HOLES = ("--over", "hole.diameter=40mm,50mm")


@pytest.fixture
def case(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "cup.toml"
    path.write_text(CUP)
    return path


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ((), ("either --over or --table",)),
        ((*HOLES, "--table", "runs.csv"), ("either --over or --table",)),
        (("--over", "hole.diameter"), ("--over", "KEY=VALUES")),
        ((*HOLES, *HOLES), ("twice", "KEY=VALUES")),
        (("--over", "hole.diametre=40mm"), ("hole.diametre", "Did you mean hole.diameter?")),
        (("--over", "hole.diameter=40:50:3"), ("hole.diameter", "no unit")),
        (("--over", "hole.diameter=40mm,90mm"), ("cup.toml", "hole.diameter", "90mm")),
        (("--over", "flow.cell=1mm,40mm"), ("flow.cell", "too coarse")),
        (("--table", "none.csv"), ("none.csv", "no such file")),
        ((*HOLES, "--workers", "2", "--cluster", "tcp://127.0.0.1:1"), ("--workers", "cluster")),
    ],
)
def test_sweep_that_cannot_be_planned_is_refused_and_leaves_nothing(
    case: Path, capsys: pytest.CaptureFixture[str], options: tuple[str, ...], words: tuple[str, ...]
) -> None:
    assert call("sweep", case, *options) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err.startswith("sinkbowl: ")
    assert shown.err.count("\n") == 1, shown.err
    for word in words:
        assert word in shown.err, shown.err
    assert list(case.parent.iterdir()) == [case]


def test_no_workers_are_too_few(case: Path) -> None:
    assert call("sweep", case, *HOLES, "--workers", "0") == 2


@pytest.fixture
def half_failed(monkeypatch: pytest.MonkeyPatch) -> list[Over]:
    """Stands in for a sweep of which one run fails; takes down what was asked for."""
    asked = []

    def sweep(case: object, over: Over, folder: Path, **options: object) -> Sweep:
        asked.append(over)
        good = SweepRun("1-40mm", "1-40mm.h5", (0.04,), ("40mm",), "finished", 0.25, "sinks: full")
        bad = SweepRun("2-50mm", "2-50mm.h5", (0.05,), ("50mm",), "failed", reason="too fast")
        return Sweep(folder, "Coarse cup", CUP, "", ("hole.diameter",), (good, bad))

    monkeypatch.setattr("sinkbowl.running.sweeping.sweep", sweep)
    return asked


def test_failed_runs_stand_in_the_table_with_exit_status_1(
    case: Path, capsys: pytest.CaptureFixture[str], half_failed: list[Over]
) -> None:
    assert call("sweep", case, *HOLES) == 1
    shown = capsys.readouterr()
    for word in ("40 mm", "250 ms", "sinks: full", "failed", "too fast", "1 of 2 runs finished"):
        assert word in shown.out, shown.out
    assert "1 of 2 runs are not finished" in shown.err
    assert half_failed == [{"hole.diameter": "40mm,50mm"}]


def test_failed_runs_stand_in_the_json_with_null_for_what_there_is_not(
    case: Path, capsys: pytest.CaptureFixture[str], half_failed: list[Over]
) -> None:
    (case.parent / "runs.csv").write_text("hole.diameter [mm]\n40\n50\n")
    assert call("sweep", case, "--table", "runs.csv", "--json") == 1
    told = json.loads(capsys.readouterr().out)
    assert told["keys"] == ["hole.diameter"]
    assert [run["status"] for run in told["runs"]] == ["finished", "failed"]
    assert told["runs"][1]["sinking_time_s"] is None
    assert told["runs"][1]["reason"] == "too fast"
    assert told["runs"][0]["values"] == {"hole.diameter": 0.04}
    assert half_failed == [[{"hole.diameter": "40 mm"}, {"hole.diameter": "50 mm"}]]
