"""Wrong sweeps on the command line, and what a sweep with failures prints."""

import json
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import h5py
import numpy as np
import pytest

from console import call
from cups import cup_text
from faults.command_inputs import spoil_result
from sinkbowl.case.case import parse_case
from sinkbowl.common.errors import LONGEST, ResultError
from sinkbowl.scatter.interval import TimeInterval
from sinkbowl.sweeps.index import (
    INDEX,
    KIND,
    SCHEMA_VERSION,
    Sweep,
    SweepRun,
    read_sweep,
    write_index,
)
from sinkbowl.sweeps.plan import Over, plan_sweep
from sinkbowl.sweeps.sweeping import open_log
from sinkbowl_post.pages.printing import json_text
from sinkbowl_post.pages.run_page import sweep_figures, sweep_page
from synthetic import seal_again

CUP = cup_text(
    40,
    title="Coarse cup",
    wall=10,
    base=10,
    mass=500,
    more='[flow]\ncell = "10 mm"\nbase_cell = "2.5 mm"',
)
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
        (("--over", "hole.diameter=6mm-40mm"), ("hole.diameter", "first:last:count")),
        (("--over", "hole.diameter=40:50:3"), ("hole.diameter", "no unit")),
        (("--over", "hole.diameter=40mm,90mm"), ("cup.toml", "hole.diameter", "90mm")),
        (("--over", "flow.cell=1mm,40mm"), ("flow.cell", "too coarse")),
        (("--table", "none.csv"), ("none.csv", "is not there")),
        ((*HOLES, "--workers", "2", "--cluster", "tcp://127.0.0.1:1"), ("--workers", "cluster")),
    ],
)
def test_sweep_that_cannot_be_planned_is_refused_and_leaves_nothing(case, capsys, options, words):
    assert call("sweep", case, *options) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err.startswith("sinkbowl: ")
    assert shown.err.count("\n") == 1, shown.err
    for word in words:
        assert word in shown.err, shown.err
    assert list(case.parent.iterdir()) == [case]


def test_no_workers_are_too_few(case):
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

    monkeypatch.setattr("sinkbowl.sweeps.sweeping.sweep", sweep)
    return asked


def test_failed_runs_stand_in_the_table_with_exit_status_1(case, capsys, half_failed):
    assert call("sweep", case, *HOLES) == 1
    shown = capsys.readouterr()
    for word in ("40 mm", "250 ms", "sinks: full", "failed", "too fast", "1 of 2 runs finished"):
        assert word in shown.out, shown.out
    assert "1 of 2 runs are not finished" in shown.err
    assert half_failed == [{"hole.diameter": "40mm,50mm"}]


def test_failed_runs_stand_in_the_json_with_null_for_what_there_is_not(case, capsys, half_failed):
    (case.parent / "runs.csv").write_text("hole.diameter [mm]\n40\n50\n")
    assert call("sweep", case, "--table", "runs.csv", "--json") == 1
    told = json.loads(capsys.readouterr().out)
    assert told["keys"] == ["hole.diameter"]
    assert [run["status"] for run in told["runs"]] == ["finished", "failed"]
    assert told["runs"][1]["sinking_time_s"] is None
    assert told["runs"][1]["reason"] == "too fast"
    assert told["runs"][0]["values"] == {"hole.diameter": 0.04}
    assert half_failed == [[{"hole.diameter": "40 mm"}, {"hole.diameter": "50 mm"}]]


def _file_of(file: h5py.File, name: str) -> None:
    file["runs/file"][0] = name


def _replaced(file: h5py.File, name: str, **dataset: object) -> None:
    del file[name]
    file.create_dataset(name, **dataset)


HOSTILE: dict[str, Callable[[h5py.File], object]] = {
    "huge column": lambda f: _replaced(
        f, "runs/wall_seconds", shape=(10**10,), dtype="f8", chunks=(1000,)
    ),
    "a file elsewhere": lambda f: _file_of(f, "../../elsewhere.h5"),
    "a folder's name": lambda f: _file_of(f, ".."),
    "an unknown status": lambda f: f["runs/status"].__setitem__(0, "asleep"),
    "columns of several lengths": lambda f: _replaced(f, "runs/losses", data=np.zeros(5, int)),
    "numbers for words": lambda f: _replaced(f, "runs/name", data=np.zeros(2)),
    "words for numbers": lambda f: _replaced(f, "runs/losses", data=["a", "b"]),
    "no column": lambda f: f.pop("runs/outcome"),
    "an unknown key": lambda f: f.attrs.create("keys", ["hole.colour"]),
    "one word for the keys": lambda f: f.attrs.create("keys", "hole.diameter"),
    "numbers for the keys": lambda f: f.attrs.create("keys", np.zeros(3)),
    "very many keys": lambda f: f.attrs.create("keys", ["hole.diameter"] * 1000),
    "words without a number": lambda f: f["written/hole.diameter"].__setitem__(0, "wide"),
    "another number than it says": lambda f: f["values/hole.diameter"].__setitem__(0, 0.5),
    "no title": lambda f: f.attrs.pop("title"),
    "a title of a million letters": lambda f: f.attrs.create("title", "x" * 10**6),
    "a reason of a million letters": lambda f: f["runs/reason"].__setitem__(0, "x" * 10**6),
    "a key of a million letters": lambda f: f.attrs.create("keys", ["x" * 10**6]),
    "a value of a million letters": lambda f: f["written/hole.diameter"].__setitem__(
        0, "10 " + " " * 10**6 + "mm"
    ),
    "a wall time without end": lambda f: f["runs/wall_seconds"].__setitem__(0, np.inf),
    "a sinking time below 0": lambda f: f["runs/sinking_time"].__setitem__(0, -1.0),
    "a sinking time of nothing": lambda f: f["runs/sinking_time"].__setitem__(0, 1e-300),
    "a mean of 0": lambda f: f["runs/mean"].__setitem__(1, 0.0),
    "a scatter below 0": lambda f: f["runs/scatter"].__setitem__(1, -0.1),
    "a shift of all the time": lambda f: f["runs/other"].__setitem__(1, "shift=-1.0"),
    "a case with a long key": lambda f: f.attrs.create("case_text", "a" + ".a" * 10**5 + "=1"),
    "a link to another file": lambda f: [
        f.pop("runs/name"),
        f.__setitem__("runs/name", h5py.ExternalLink("other.h5", "/runs/name")),
    ],
}


def written_sweep(folder: Path) -> Sweep:
    """A sweep of two runs, one of them with an interval, with its index on disk."""
    interval = TimeInterval(1.0, 0.02, 0.01, 5, "members", "grids", 0.4, 0.01, {"air": 0.05})
    done = SweepRun("1", "1.h5", (0.01,), ("10 mm",), "finished", 1.0, "sinks")
    other = SweepRun("2", "2.h5", (0.02,), ("20 mm",), "finished", 1.0, "sinks", "", 3.0)
    runs = (done, replace(other, interval=interval, members=5))
    kept = Sweep(folder, "Cup", CUP, "", ("hole.diameter",), runs)
    write_index(kept)
    return kept


@pytest.mark.parametrize("name", HOSTILE)
def test_an_index_made_to_do_harm_is_refused(tmp_path, name, refused):
    """A few kilobytes that claim gigabytes, hold the wrong things or point elsewhere."""
    kept = written_sweep(tmp_path)
    (tmp_path / "other.h5").write_bytes((tmp_path / INDEX).read_bytes())
    assert read_sweep(tmp_path) == kept
    with h5py.File(tmp_path / INDEX, "r+") as file:
        HOSTILE[name](file)
    seal_again(tmp_path / INDEX, KIND, SCHEMA_VERSION)
    with pytest.raises(ResultError, match=r"index\.h5: is not a readable index"):
        read_sweep(tmp_path)
    assert len(refused("report", tmp_path, "-o", tmp_path / "page.html")) < LONGEST + 20


def test_spoilt_indexes_are_shown_or_refused(tmp_path, capsys):
    """Numbers, words and lengths changed at random, sealed again; seed fixed."""
    written_sweep(tmp_path)
    content, rng, told = (tmp_path / INDEX).read_bytes(), random.Random(3), Counter[str]()
    for _ in range(150):
        (tmp_path / INDEX).write_bytes(content)
        spoil_result(rng, tmp_path / INDEX)
        try:
            found = read_sweep(tmp_path)
        except ResultError:
            told["refused"] += 1
            continue
        sweep_page(found)
        assert repr(found)
        json_text(sweep_figures(found))
        told["shown"] += 1
    capsys.readouterr()
    assert min(told.values()) > 20, told


def test_an_index_that_tells_of_runs_that_are_not_there_is_not_believed(tmp_path):
    """The same sweep computes all of them: result files tell what is done."""
    case = parse_case(CUP, Path(), "cup.toml")
    plan = plan_sweep(case, {"hole.diameter": ["10 mm", "20 mm"]}, 1, 1, 0)
    work = {run.name: 1 for run in plan.runs}
    log = open_log(tmp_path, plan, work, None)
    lies = [replace(run, status="finished", sinking_time=9.0) for run in log.state.runs]
    write_index(replace(log.state, runs=tuple(lies)))
    assert len(read_sweep(tmp_path).with_status("finished")) == 2
    again = open_log(tmp_path, plan, work, None)
    assert again.missing() == list(plan.runs)
    assert [run.status for run in read_sweep(tmp_path).runs] == ["waiting"] * 2
    assert [run.sinking_time for run in again.state.runs] == [None] * 2
