"""The same case on several grids: which ones, what the file holds, what is printed and drawn."""

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import h5py
import numpy as np
import pytest

from coarse_cups import STEEL, case_of, thick_cup
from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError, ResultError
from sinkbowl.files.result import Result, read_result
from sinkbowl.flow.layout import lay_out
from sinkbowl.running.convergence import GRID_DATASETS, judge, store_grids
from sinkbowl.running.job_queue import QueueProgress
from sinkbowl.running.members import RATIO, coarser_cases, run_grids
from sinkbowl.running.merging import Grids
from sinkbowl.running.runner import RunResult
from sinkbowl.scatter.interval import as_attributes, of_runs
from sinkbowl_post.comparing.compare import compare
from sinkbowl_post.comparing.figure import comparison_figure
from synthetic import CASE_TEXT, edited, write_result

CELLS = [1e-3, RATIO * 1e-3, 2e-3]


def fine_cup() -> Case:
    """The thick cup on cells of half the size; its hole is closed."""
    text = thick_cup(2700).text.replace('"resolved"', '"closed"')
    return case_of(text.replace('cell = "10 mm"', 'cell = "5 mm"'))


def stored(path: Path, stretch: Sequence[float]) -> tuple[Result, list[float | None]]:
    """A made-up result with grids whose sinkings are slower by these factors, finest first."""
    base = read_result(write_result(path)).sinking()
    curves = [replace(base, t=base.t * f, sinking_time=base.sinking_time * f) for f in stretch]
    times = [curve.sinking_time for curve in curves]
    verdict, warning = judge(CELLS, times)
    interval = of_runs(case_of(CASE_TEXT), times[:1], verdict.uncertainty if verdict else None)
    with edited(path) as file:
        store_grids(file, CELLS, [[curve] for curve in curves], verdict, warning)
        file.attrs.update(as_attributes(interval))
    return read_result(path), times


def test_coarser_grids_keep_the_treatment_of_the_hole():
    """40 mm on 4 mm: resolved; on 8 mm, five cells across, still resolved."""
    cases = coarser_cases(case_of(STEEL), 3)
    layouts = [lay_out(case) for case in cases]
    assert [layout.cell for layout in layouts] == pytest.approx([4e-3, 4e-3 * RATIO, 8e-3])
    assert not any(layout.closed for layout in layouts)
    closed = coarser_cases(fine_cup(), 3)
    assert all(lay_out(case).closed for case in closed)


def test_a_cell_too_coarse_for_coarser_ones_is_refused():
    """10 mm of a rim of 50 mm is the limit; 5 mm is twice as fine as three grids ask for."""
    with pytest.raises(CaseError, match=r"flow\.cell.*at most 5 mm"):
        coarser_cases(thick_cup(2700), 3)
    assert len(coarser_cases(fine_cup(), 3)) == 3


def test_file_holds_every_dataset_with_unit_description_and_dims(tmp_path):
    """The table of the group is the file's content."""
    stored(tmp_path / "cup.h5", (1.0, 1.02, 1.06))
    with h5py.File(tmp_path / "cup.h5") as file:
        assert {f"grids/{name}" for name in file["grids"]} == {d.name for d in GRID_DATASETS}
        for entry in GRID_DATASETS:
            dataset = file[entry.name]
            assert dataset.attrs["units"] == entry.units
            assert dataset.attrs["description"] == entry.description
            assert tuple(dim.label for dim in dataset.dims) == entry.dims
        assert file["grids"].attrs["kind"] == "monotone"
        assert np.allclose(file["grids/cell"][:], CELLS)


def test_uncertainty_is_that_of_a_second_order_sequence(tmp_path):
    """Errors of 2 % and 4 % of the time added: e32 / e21 = 2, order 2 on sqrt(2), 1.25 x 2 %."""
    result, times = stored(tmp_path / "cup.h5", (1.0, 1.02, 1.06))
    assert result.uncertainty == pytest.approx(1.25 * 0.02 * times[0], rel=1e-6)
    assert result.grids_warning == ""


def test_curves_are_compared_where_all_of_them_reach(tmp_path):
    """Up to the shortest sinking; nothing differs at release; the bar covers the true distance."""
    result, times = stored(tmp_path / "cup.h5", (1.0, 1.02, 1.06))
    with h5py.File(tmp_path / "cup.h5") as file:
        t, draft = file["grids/t"][:], file["grids/draft"][:]
        bar = file["grids/draft_uncertainty"][:]
    assert t[-1] == times[0]
    assert draft.shape == (3, len(t))
    assert bar[0] == 0.0
    assert np.all(bar >= 1.25 * np.abs(draft[1] - draft[0]) * (1.0 - 1e-9))
    assert np.allclose(draft[0], np.interp(t, result.history["t"], result.history["draft"]))


@pytest.mark.slow
def test_swinging_times_are_told_in_file_table_and_json(tmp_path):
    result, _ = stored(tmp_path / "cup.h5", (1.0, 1.02, 0.99))
    comparison = compare(result)
    assert "oscillate" in result.grids_warning
    assert "oscillate" in comparison.table.caption
    assert comparison.as_dict()["flow"]["grids_warning"] == result.grids_warning


def test_a_grid_on_which_the_rim_stays_dry_leaves_no_error_bar():
    assert judge(CELLS, [2.0, None, 2.1]) == (
        None, "the rim passes under only on some of the three finest grids",
    )  # fmt: skip
    assert judge(CELLS, [None] * 3)[1].startswith("the rim passes under on none")


def test_comparison_shows_the_bar(tmp_path):
    """Time with its interval in the table; a bar of that length in the figure."""
    result, times = stored(tmp_path / "cup.h5", (1.0, 1.02, 1.06))
    comparison = compare(result)
    told = comparison.table.rows[0][1]
    assert "±" in str(told)
    figure = comparison_figure(comparison, result.case.bowl.rim_height)
    bars = [c for axes in figure.axes for c in axes.containers if hasattr(c, "has_xerr")]
    assert len(bars) == 1
    segment = bars[0].lines[2][0].get_segments()[0]
    interval, time = result.interval, times[0]
    assert interval.grid == result.uncertainty
    assert time is not None
    assert segment[1, 0] - segment[0, 0] == pytest.approx(2.0 * interval.half, rel=1e-6)
    assert segment[:, 0].mean() == pytest.approx(interval.time, rel=1e-6)


def test_one_grid_has_the_bar_of_the_table(tmp_path):
    """A file without an interval of its own is that of a single run."""
    result = read_result(write_result(tmp_path / "cup.h5"))
    assert result.uncertainty is None
    assert result.interval.grid_from == result.interval.scatter_from == "table"
    figure = comparison_figure(compare(result), result.case.bowl.rim_height)
    (bar,) = (c for axes in figure.axes for c in axes.containers if hasattr(c, "has_xerr"))
    segment = bar.lines[2][0].get_segments()[0]
    assert segment[1, 0] - segment[0, 0] == pytest.approx(2.0 * result.interval.half, rel=1e-6)


@pytest.mark.parametrize("levels", [2, 6])
def test_number_of_grids_is_three_to_five(levels, tmp_path):
    with pytest.raises(ValueError, match="levels"):
        run_grids(case_of(STEEL), tmp_path / "cup.h5", levels)


def test_existing_file_is_refused_before_anything_runs(tmp_path):
    (tmp_path / "cup.h5").write_text("mine")
    with pytest.raises(ResultError, match="exists"):
        run_grids(case_of(STEEL), tmp_path / "cup.h5")
    assert (tmp_path / "cup.h5").read_text() == "mine"


@pytest.mark.slow
def test_thick_cup_on_three_grids(tmp_path):
    """A real sequence on coarse cells: file, figures and progress belong together."""
    seen: list[QueueProgress] = []
    path = tmp_path / "cup.h5"
    levels = run_grids(fine_cup(), path, progress=seen.append)
    result = read_result(path)
    print(f"\n{levels.cells}, {levels.sinking_times}, {levels.verdict}")
    assert result.status == "finished"
    assert result.sinking_time == levels.sinking_times[0]
    assert result.uncertainty == levels.uncertainty
    assert levels.uncertainty > 0.0
    done = [now.fraction_done for now in seen]
    assert done[-1] == pytest.approx(1.0)
    assert all(math.isfinite(share) for share in done)
    assert sorted(file.name for file in tmp_path.iterdir()) == ["cup.h5"]


@pytest.mark.slow
def test_command_prints_times_of_all_grids(tmp_path, answer, written):
    """A line a grid, then the time with its bar."""
    case = written(fine_cup().text)
    told = answer("run", case, "--grids", 3, "-o", tmp_path / "cup.h5")
    assert told.count("cells of") == 3
    assert "numerical, 95 %" in told
    assert "One run; " in told


def test_grids_show_themselves_with_their_times_and_the_warning():
    """What a notebook prints: the finest time with its error bar, then a line a grid."""
    times = [2.0, 2.1, 2.3]
    verdict, warning = judge(CELLS, times)
    interval = of_runs(case_of(STEEL), [2.0], verdict.uncertainty)
    ended = RunResult(Path("cup.h5"), "finished", 2.0, "sank", 10, 1.0, 0.0, (), interval)
    shown = repr(Grids(ended, tuple(CELLS), tuple(times), verdict, warning))
    assert shown.splitlines()[0] == "cup.h5: finished, 3 grids"
    for words in (str(interval.best), "1.41 mm", "2.10 s", "2.30 s"):
        assert words in shown
    swinging = Grids(ended, tuple(CELLS), (2.0, 2.3, 2.1), *judge(CELLS, [2.0, 2.3, 2.1]))
    assert swinging.warning in repr(swinging)
    assert "<td" in swinging._repr_html_()
