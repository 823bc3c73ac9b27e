"""Decimal commas: tables that read back to the same numbers, figures without a decimal point."""

import re

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from sinkbowl.case.starter import shipped_case
from sinkbowl.common.errors import ResultError
from sinkbowl.common.table import csv_text
from sinkbowl.files.result import read_result
from sinkbowl_post.exporting.export import export
from sinkbowl_post.reference_curves.curves import curves
from sinkbowl_post.style import HEADING, STAMP, comma_figure, sign, title
from synthetic import write_result


def test_only_numbers_change_and_remarks_stay():
    rows = [("1.5", "cup, 2.5 mm"), ("-2.5e-05", "3")]
    assert csv_text(("a [m]", "b"), rows, ["sinkbowl 1.2.0"], comma=True).splitlines() == [
        "# sinkbowl 1.2.0",
        "a [m];b",
        "1,5;cup, 2.5 mm",
        "-2,5e-05;3",
    ]


def test_a_history_reads_back_as_a_spreadsheet_reads_it(tmp_path):
    result = read_result(write_result(tmp_path / "run.h5", frames=3))
    export(result, tmp_path / "run.csv", comma=True)
    lines = (tmp_path / "run.csv").read_text(encoding="utf-8").splitlines()
    names = lines[0].split(";")
    rows = np.array([[float(c.replace(",", ".")) for c in line.split(";")] for line in lines[1:]])
    assert rows[:, names.index("draft [m]")] == pytest.approx(result.history["draft"])
    with pytest.raises(ResultError, match="--comma"):
        export(result, tmp_path / "run.vtu", comma=True)


def test_curves_read_their_own_table_with_commas(tmp_path):
    source, comma = (
        shipped_case("steel-cup").parent / "curves/steel-cup.csv",
        tmp_path / "comma.csv",
    )
    before = curves(source, comma, comma=True)
    assert ";" in comma.read_text(encoding="utf-8")
    assert [p.time for p in curves(comma).points] == pytest.approx(
        [p.time for p in before.points], rel=1e-5
    )


def test_a_figure_has_no_decimal_point_but_in_its_stamp():
    figure = Figure()
    title(figure, "Cup of 1.5 mm", "0.5 s")
    axes = figure.add_subplot()
    axes.plot([0.0, 0.5], [0.25, 0.75])
    axes.text(0.1, 0.5, "0.125 s")
    sign(figure)
    comma_figure(figure, {STAMP})
    figure.canvas.draw()
    stamp = [text for text in figure.texts if text.get_gid() == "stamp"]
    told = [t.get_text() for t in figure.findobj(Text) if t not in stamp]  # type: ignore[union-attr]
    assert not [text for text in told if re.search(r"\d\.\d", text)]
    assert "0,125 s" in told
    assert any("," in label.get_text() for label in axes.get_xticklabels())
    assert re.search(r"\d\.\d", stamp[0].get_text())


def test_a_heading_of_ones_own_stays_as_it_is():
    figure = Figure()
    title(figure, "Take 1.2")
    comma_figure(figure, {HEADING})
    assert figure.texts[0].get_text() == "Take 1.2"
