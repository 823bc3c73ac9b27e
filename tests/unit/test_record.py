"""The result file: what goes in comes out, and nobody's file is lost."""

import hashlib
from types import SimpleNamespace
from typing import Any

import h5py
import numpy as np
import pytest

from sinkbowl.common.errors import ResultError
from sinkbowl.files.record import DATASETS, FRAME_FIELDS, HISTORY, HISTORY_CHUNK
from sinkbowl.files.recorder import Recorder
from sinkbowl.files.result import read_result
from synthetic import CASE_TEXT, OUTLINE, filling, write_result

CASE: Any = SimpleNamespace(title="Test cup", text=CASE_TEXT, path=None)


def test_a_result_is_read_back_as_it_was_written(tmp_path):
    result = read_result(write_result(tmp_path / "run.h5", frames=4, steps=50))
    fill = filling(50)
    for name in ("t", "draft", "inner_level", "head", "hole_flow", "inner_volume"):
        assert np.array_equal(result.history[name], getattr(fill, name)), name
    assert result.status == "finished"
    assert result.sinking_time == fill.t[-1]
    assert result.events == {"start": 0.0, "rim_under": fill.t[-1]}
    assert np.array_equal(result.grid["outline"], OUTLINE)
    assert np.array_equal(result.frames.draft, fill.draft[[0, 16, 32, 49]])
    sinking = result.sinking()
    assert (sinking.model, sinking.sinking_time) == ("flow", fill.t[-1])
    assert len(sinking.hole_flow) == 50


def test_a_frame_is_read_back_to_single_precision(tmp_path):
    with Recorder.create(tmp_path / "run.h5", CASE) as recorder:
        recorder.grid(small_grid())
        fields = {name: np.full((3, 2), 0.1 * (k + 1)) for k, name in enumerate(FRAME_FIELDS)}
        recorder.frame(0.5, 0.03, 0.01, fields)
        recorder.finish("finished", None)
    frames = read_result(tmp_path / "run.h5").frames
    assert len(frames) == 1
    for name, field in frames.fields(0).items():
        assert field.dtype == np.float32
        assert field == pytest.approx(fields[name], rel=2**-24), name


def test_every_dataset_says_its_unit_meaning_and_dimensions_to_h5py_alone(tmp_path):
    write_result(tmp_path / "run.h5")
    with h5py.File(tmp_path / "run.h5") as file:
        found: list[str] = []
        file.visititems(
            lambda name, item: found.append(name) if isinstance(item, h5py.Dataset) else None
        )
        assert sorted(found) == sorted(entry.name for entry in DATASETS)
        for entry in DATASETS:
            dataset = file[entry.name]
            assert dataset.attrs["units"] == entry.units
            assert dataset.attrs["description"] == entry.description
            assert tuple(dim.label for dim in dataset.dims) == entry.dims


def test_the_case_is_in_the_file_verbatim_with_its_hash_and_read_again_from_it(tmp_path):
    """The hash is that of hashlib over the text's UTF-8 bytes."""
    case = read_result(write_result(tmp_path / "run.h5")).case
    assert (case.hole.diameter, case.bowl.rim_height) == pytest.approx((0.020, 0.060))
    with h5py.File(tmp_path / "run.h5") as file:
        assert file.attrs["case_text"] == CASE_TEXT
        assert file.attrs["case_hash"] == hashlib.sha256(CASE_TEXT.encode()).hexdigest()
        assert file.attrs["schema_version"] == "4"


def test_a_run_in_progress_is_readable_and_says_so(tmp_path):
    with Recorder.create(tmp_path / "run.h5", CASE) as recorder:
        recorder.append_history(dict.fromkeys(HISTORY, 1.0))
        recorder.publish()
        recorder.append_history(dict.fromkeys(HISTORY, 2.0))
        result = read_result(tmp_path / "run.h5")
        assert result.status == "running"
        assert result.history["t"].tolist() == [1.0]
        recorder.finish("stopped", None, "by hand")
    result = read_result(tmp_path / "run.h5")
    assert result.status == "stopped"
    assert result.sinking_time is None
    assert result.history["t"].tolist() == [1.0, 2.0]


def test_leaving_without_an_end_marks_the_run_failed_with_the_reason(tmp_path):
    def run_that_breaks() -> None:
        with Recorder.create(tmp_path / "run.h5", CASE) as recorder:
            recorder.append_history(dict.fromkeys(HISTORY, 1.0))
            raise ArithmeticError("the conservation budget opened")

    with pytest.raises(ArithmeticError):
        run_that_breaks()
    result = read_result(tmp_path / "run.h5")
    assert result.status == "failed"
    assert result.attrs["message"] == "the conservation budget opened"
    assert len(result.history["t"]) == 1


def test_a_folder_is_no_result_file(tmp_path):
    with pytest.raises(ResultError, match="is a folder"):
        Recorder.create(tmp_path, CASE, overwrite=True)


def test_a_row_with_a_missing_or_unknown_column_is_refused(tmp_path):
    with Recorder.create(tmp_path / "run.h5", CASE) as recorder:
        row = dict.fromkeys(HISTORY, 0.0)
        del row["draft"]
        with pytest.raises(ValueError, match=r"missing \['draft'\], unknown \['depth'\]"):
            recorder.append_history(row | {"depth": 0.0})
        recorder.finish("finished", None)


def test_memory_of_the_history_is_bounded(tmp_path):
    """Rows leave memory when a chunk is full, and each dataset has them all in the end."""
    with Recorder.create(tmp_path / "run.h5", CASE) as recorder:
        for k in range(3000):
            recorder.append_history(dict.fromkeys(HISTORY, float(k)))
            assert len(recorder._rows) < HISTORY_CHUNK
        recorder.finish("finished", None)
    history = read_result(tmp_path / "run.h5").history
    assert all(np.array_equal(column, np.arange(3000.0)) for column in history.values())


def test_rows_interrupted_between_two_columns_are_written_once(tmp_path):
    """Ctrl-C may come between any two writes; the rows are then written over, not twice."""
    with Recorder.create(tmp_path / "run.h5", CASE) as recorder:
        for k in range(5):
            recorder.append_history(dict.fromkeys(HISTORY, float(k)))
        dataset = recorder._file[f"history/{HISTORY[0]}"]
        dataset.resize(5, axis=0)
        dataset[:] = np.arange(5.0)
        recorder.finish("stopped", None)
    with h5py.File(tmp_path / "run.h5") as file:
        for name in HISTORY:
            assert np.array_equal(file[f"history/{name}"][:], np.arange(5.0)), name


def test_nothing_is_left_beside_a_result_that_has_ended(tmp_path):
    with Recorder.create(tmp_path / "run.h5", CASE) as recorder:
        recorder.publish()
        recorder.finish("finished", None)
    assert [path.name for path in tmp_path.iterdir()] == ["run.h5"]


def test_a_second_writer_of_the_same_result_is_refused(tmp_path):
    path = tmp_path / "run.h5"
    with Recorder.create(path, CASE) as recorder:
        recorder.append_history(dict.fromkeys(HISTORY, 1.0))
        recorder.publish()
        for overwrite in (False, True):
            with pytest.raises(ResultError, match=r"run\.h5: (another run|exists already)"):
                Recorder.create(path, CASE, overwrite)
        recorder.append_history(dict.fromkeys(HISTORY, 2.0))
        recorder.finish("finished", None)
    assert read_result(path).history["t"].tolist() == [1.0, 2.0]
    with Recorder.create(path, CASE, overwrite=True) as recorder:
        recorder.finish("finished", None)


def small_grid() -> dict[str, np.ndarray]:
    return {
        "r_f": np.linspace(0, 1, 4),
        "z_f": np.linspace(0, 1, 3),
        "open_fraction": np.ones((3, 2)),
        "outline": OUTLINE,
        "grid_outline": OUTLINE,
        "ballast_outline": np.zeros((0, 2)),
    }
