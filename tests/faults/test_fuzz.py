"""Ten thousand spoilt inputs: read or refused, and nothing else happens.

Not a traceback, not a hang of two seconds of processor time, no memory without bound, no process
started, no file written elsewhere, no pickle, no network. Seeds are fixed; a failure names the
input, which is kept in the test's folder.
"""

import random
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import h5py
import meshio
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from faults.killed_runs import CUP
from faults.mutation import mutated, outcome, read_all, watched
from faults.test_bad_cases import GOOD, PROFILE
from sinkbowl.bowl.mesh_file import FORMATS
from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_cases
from sinkbowl.common.errors import CaseError, ResultError
from sinkbowl.files.record import HISTORY, MOST
from sinkbowl.files.result import read_result
from sinkbowl.files.safe_reading import MOST_READ, Opened
from sinkbowl_post.measured.measured import read_measured
from synthetic import edited, write_result
from turned_surfaces import turned

CASES, OUTLINES, TABLES, MESHES, SURFACES = 2500, 2300, 4500, 400, 300
assert CASES + OUTLINES + TABLES + MESHES + SURFACES == 10_000

TABLES_OF_TRIALS = (
    b"hole [mm],mass [g],time [s],outcome\n8,200,12.5,sinks\n1,200,,plugged\n",
    b"t [s];draft [mm]\n0;25\n0,1;26\n0,2;27\n0,3;28\n0,4;29,5\n",
    b"# a remark\nhole (mm)\ttime (min)\n8\t1,5\n9\t1.25\n",
)
OUTLINE_TABLES = (
    GOOD.encode(),
    b"r [mm]; z [mm]\n0;0\n40;0,5\n50;40\n",
    b"# metres\n0.005 0\n0.04 0\n0.05 0.04\n",
)
MESH_FILES = {
    "o51.vtk": b"# vtk DataFile Version 5.1\nx\nASCII\nDATASET UNSTRUCTURED_GRID\n"
    b"POINTS 3 double\n0 0 0 0.04 0 0 0.05 0.04 0\nCELLS 3 4\nOFFSETS vtktypeint64\n0 2 4\n"
    b"CONNECTIVITY vtktypeint64\n0 1 1 2\nCELL_TYPES 2\n3\n3\n",
    "o.vtk": b"# vtk DataFile Version 3.0\nx\nASCII\nDATASET UNSTRUCTURED_GRID\nPOINTS 3 double\n"
    b"0 0 0 0.04 0 0 0.05 0.04 0\nCELLS 2 6\n2 0 1\n2 1 2\nCELL_TYPES 2\n3\n3\n",
}


def spoilt(
    folder: Path,
    name: str,
    count: int,
    seed: int,
    texts: tuple[bytes, ...],
    read: Callable[[], object],
) -> None:
    """Spoil a file that many times and read it; print how many were still good."""
    rng, told = random.Random(seed), Counter[str]()
    path = folder / name
    path.write_bytes(texts[0])
    read()  # what is imported on first use is so before the watch begins
    with watched(folder) as seen:
        for k in range(count):
            content = mutated(rng, rng.choice(texts), texts)
            path.write_bytes(content)
            what = outcome(read)
            told[what] += 1
            if what not in ("read", "refused") or seen:
                (folder / f"failed-{k}").write_bytes(content)
                pytest.fail(f"input {k} (seed {seed}): {what} {seen}\n{content!r:.2000}")
    print(dict(told))
    assert told["read"] > 0.01 * count, "the inputs are spoilt too much to reach the inside"
    assert told["refused"] > 0.2 * count


@pytest.mark.slow
def test_spoilt_case_files(tmp_path):
    texts = (CUP.encode(), *(path.read_bytes() for path in shipped_cases().values()))
    (tmp_path / "c.toml").write_text(CUP.replace("mm", "mmm"))
    with pytest.raises(CaseError):  # which imports the library of units, and what that imports
        load_case(tmp_path / "c.toml")
    spoilt(tmp_path, "c.toml", CASES, 1, texts, lambda: load_case(tmp_path / "c.toml"))


@pytest.mark.slow
def test_spoilt_outlines(tmp_path, written):
    case = written(PROFILE, "c.toml")
    spoilt(tmp_path, "o.csv", OUTLINES, 2, OUTLINE_TABLES, lambda: load_case(case))


@pytest.mark.parametrize("name", MESH_FILES)
def test_spoilt_meshes(tmp_path, name, written):
    case = written(PROFILE.replace("o.csv", name), "c.toml")
    count = MESHES // len(MESH_FILES)
    spoilt(tmp_path, name, count, 3, (MESH_FILES[name],), lambda: load_case(case))


@pytest.mark.parametrize("suffix", FORMATS)
def test_spoilt_surfaces(tmp_path, suffix):
    points, triangles = turned(np.array([(0.005, 0.0), (0.04, 0.0), (0.05, 0.04)]), 16)
    name = f"o{suffix}"
    path, case = tmp_path / name, tmp_path / "c.toml"
    form = {".stl": {"binary": True}, ".vtu": {"binary": False}}.get(suffix, {})
    mesh = meshio.Mesh(points, [("triangle", triangles.astype(np.int32))])
    mesh.write(path, FORMATS[suffix], **form)
    case.write_text(PROFILE.replace("o.csv", name))
    count = SURFACES // len(FORMATS)
    spoilt(tmp_path, name, count, 5, (path.read_bytes(),), lambda: load_case(case))


LONG = {
    "trials": ("time [s]\n" + "2.1\n" * 1_000_000, r"Has 1000000 rows\. At most 100000"),
    "trials of holes": ("hole [mm],time [s]\n" + "20,2.1\n" * 1001, r"Has 1001 trials\. At most"),
    "a trace": ("t [s],draft [mm]\n" + "1,2\n" * 100_001, r"Has 100001 rows\. At most 100000"),
}


@pytest.mark.parametrize("what", LONG)
def test_tables_of_more_rows_than_anyone_measures_are_refused(tmp_path, what):
    text, says = LONG[what]
    (tmp_path / "t.csv").write_text(text)
    begun = time.process_time()
    with pytest.raises(CaseError, match=says):
        read_measured(tmp_path / "t.csv")
    assert time.process_time() - begun < 5.0


@pytest.mark.slow
def test_spoilt_tables_of_measurements(tmp_path):
    import pint  # noqa: F401  (loads dask where that is there, which unpickles functions of its own)

    path = tmp_path / "t.csv"
    spoilt(tmp_path, "t.csv", TABLES, 4, TABLES_OF_TRIALS, lambda: read_measured(path))


def replaced(file: h5py.File, name: str, **dataset: object) -> None:
    del file[name]
    file.create_dataset(name, **dataset)


SAYS = {"a grid that is nowhere open": "arrays of the grid do not match"}

HOSTILE: dict[str, Callable[[h5py.File], object]] = {
    "huge history": lambda f: [
        f[n].resize(10**12, axis=0) for n in map("history/{}".format, f["history"])
    ],
    "a history of millions of rows": lambda f: _longer(f, "history", 33_000_000),
    "a history a little too long": lambda f: _longer(f, "history", MOST["step"] + 1),
    "millions of events": lambda f: _longer(f, "events", 60_000_000),
    "long names of events": lambda f: (
        _longer(f, "events", 30),
        [f["events/name"].__setitem__(k, "x" * 100_000) for k in range(30)],
    ),
    "millions of frames": lambda f: _longer(f, "frames", 10_000_000),
    "an outline of a million points": lambda f: replaced(
        f, "grid/outline", shape=(10**6, 2), dtype="f8", chunks=(1000, 2)
    ),
    "a title of a million letters": lambda f: _attribute(f, "title", "Ab c" * 250_000),
    "a time of nothing": lambda f: _attribute(f, "sinking_time_s", 1e-300),
    "a time behind the end": lambda f: _attribute(f, "sinking_time_s", 100.0),
    "huge grid": lambda f: replaced(f, "grid/r_f", shape=(10**10,), dtype="f8", chunks=(1000,)),
    "huge chunk": lambda f: replaced(
        f, "grid/r_f", shape=(1,), maxshape=(None,), dtype="f8", chunks=(2**28,)
    ),
    "huge frames": lambda f: replaced(
        f, "frames/u_r", shape=(2, 10**6, 10**6), dtype="f4", chunks=(1, 100, 100)
    ),
    "words for numbers": lambda f: replaced(f, "history/t", data=np.array(["a", "b"], dtype="S1")),
    "whole numbers": lambda f: replaced(f, "history/t", data=np.arange(20)),
    "complex numbers": lambda f: replaced(f, "history/t", data=np.arange(20) * 1j),
    "a table for a column": lambda f: replaced(f, "history/t", data=np.zeros((20, 2))),
    "one number": lambda f: replaced(f, "history/t", data=0.0),
    "nothing": lambda f: replaced(f, "history/t", data=h5py.Empty("f8")),
    "no history": lambda f: f.pop("history"),
    "no column": lambda f: f.pop("history/head"),
    "no frames": lambda f: f.pop("frames"),
    "history is a dataset": lambda f: replaced(f, "history", data=np.zeros(3)),
    "a link that leads nowhere": lambda f: _link(f, h5py.SoftLink("/nowhere")),
    "a link in a ring": lambda f: _link(f, h5py.SoftLink("/history/t")),
    "a link to another file": lambda f: _link(f, h5py.ExternalLink("good.h5", "/history/t")),
    "bytes of another file": lambda f: replaced(
        f, "history/t", shape=(20,), dtype="f8", external=[("/etc/passwd", 0, 160)]
    ),
    "a grid that runs backwards": lambda f: _set(f, "grid/r_f", f["grid/r_f"][()][::-1]),
    "a grid of nothings": lambda f: _set(f, "grid/z_f", np.nan),
    **{
        f"{value} for {name}": lambda f, name=name, value=value: f[name].__setitem__(-1, value)
        for name, value in (
            ("frames/t", np.nan),
            ("frames/draft", np.inf),
            ("history/t", np.nan),
            ("history/inner_level", np.inf),
            ("history/outer_level", -1e300),
            ("events/t", np.nan),
            ("grid/z_f", 1e300),
            ("grid/open_fraction", -1.0),
            ("grid/open_fraction", 2.0),
        )
    },
    "a grid that is nowhere open": lambda f: _set(f, "grid/open_fraction", 0.0),
    "a number for the status": lambda f: _attribute(f, "status", 3.0),
    "an unknown status": lambda f: f.attrs.modify("status", "asleep"),
    "a word for the time": lambda f: _attribute(f, "sinking_time_s", "soon"),
    "many numbers for the time": lambda f: _attribute(f, "sinking_time_s", np.zeros(9)),
    "a word for the tub's depth": lambda f: f.attrs.create("tub_depth_m", "deep"),
    "a word for the release": lambda f: f.attrs.create("release_wave_m", "calm"),
    "a scatter beyond belief": lambda f: f.attrs.create("sinking_time_scatter_s", 1e300),
    "members beyond number": lambda f: f.attrs.create("members", 1e15),
    "half a grid": lambda f: f.attrs.create("grids", 1.5),
    "a seed in words": lambda f: f.attrs.create("seed", "apple"),
    "no version": lambda f: f.attrs.pop("tool_version"),
    "no case": lambda f: f.attrs.pop("case_text"),
    "a thousand attributes": lambda f: [f.attrs.create(f"a{k}", k) for k in range(1000)],
    "a schema that is an array": lambda f: _attribute(f, "schema_version", np.zeros(5)),
}


def _longer(file: h5py.File, group: str, rows: int) -> None:
    """Rows that were never written take no room in the file."""
    for column in file[group].values():
        if column.ndim == 1:
            column.resize(rows, axis=0)


def _link(file: h5py.File, link: object) -> None:
    del file["history/t"]
    file["history/t"] = link


def _set(file: h5py.File, name: str, values: object) -> None:
    file[name][...] = values


def _attribute(file: h5py.File, name: str, value: object) -> None:
    del file.attrs[name]
    file.attrs[name] = value


@pytest.mark.parametrize("name", HOSTILE)
def test_a_result_made_to_do_harm_is_refused(tmp_path, name):
    """A few kilobytes that claim terabytes, hold the wrong things or point elsewhere."""
    write_result(tmp_path / "good.h5", frames=2, cells=(6, 8), steps=20)
    path = write_result(tmp_path / "r.h5", frames=2, cells=(6, 8), steps=20)
    read_all(path)
    with edited(path) as file:
        HOSTILE[name](file)
    says = rf"r\.h5: is not a readable result.*{SAYS.get(name, '')}"
    with watched(tmp_path) as seen, pytest.raises(ResultError, match=says) as refused:
        read_all(path)
    print(refused.value)
    assert seen == []


def test_what_is_read_of_a_result_is_added_up(tmp_path, monkeypatch):
    path = write_result(tmp_path / "r.h5", frames=2, cells=(6, 8), steps=20)
    monkeypatch.setattr(Opened, "left", 20 * 8 * 10)
    with pytest.raises(ResultError, match=r"r\.h5: .*history/.* claims 160 bytes"):
        read_result(path)


def test_the_longest_history_that_is_written_is_read():
    assert (len(HISTORY) + 3) * 8 * MOST["step"] < MOST_READ


@pytest.mark.parametrize(
    "place",
    ["../../../../etc/passwd", "/etc/passwd", "/dev/zero", ".", "x" * 5000, "a\\u0000b", ""],
)
def test_an_outline_elsewhere_is_only_ever_read_and_what_is_none_is_refused(tmp_path, place):
    """A case may use an outline from any folder; one that is no outline is not shown at length."""
    (tmp_path / "c.toml").write_text(PROFILE.replace("o.csv", place))
    with watched(tmp_path) as seen:
        assert outcome(lambda: load_case(tmp_path / "c.toml")) == "refused"
    assert seen == []


@settings(max_examples=200, deadline=None)
@given(content=st.binary(max_size=300))
def test_any_bytes_as_a_case_are_refused(tmp_path_factory, content):
    path = tmp_path_factory.getbasetemp() / "any.toml"
    path.write_bytes(content)
    assert outcome(lambda: load_case(path)) == "refused"
