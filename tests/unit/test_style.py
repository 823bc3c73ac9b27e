"""The house style: readable type, colours that stay apart for every eye; decimal commas."""

import re
from itertools import combinations

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Text

from sinkbowl.case.starter import shipped_case
from sinkbowl.common.errors import ResultError
from sinkbowl.common.text_file import csv_text
from sinkbowl.files.result import read_result
from sinkbowl_post.exporting.export import export
from sinkbowl_post.reference_curves.curves import curves
from sinkbowl_post.style import (
    HEADING,
    INK,
    LINES,
    PAPER,
    QUIET_INK,
    SLIDE,
    STAMP,
    STILL_TO_FAST,
    comma_figure,
    house_style,
    save_figure,
    seconds,
    sign,
    time_unit,
    title,
    water_map,
)
from synthetic import write_result

MACHADO = {
    name: np.array(rows).reshape(3, 3)
    for name, rows in {
        "full sight": (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0),
        "protanopia": (
            0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216,
            -0.003882, -0.048116, 1.051998,
        ),
        "deuteranopia": (
            0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413,
            -0.011820, 0.042940, 0.968881,
        ),
        "tritanopia": (
            1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602,
            0.004733, 0.691367, 0.303900,
        ),
    }.items()
}  # fmt: skip


def linear(colour: str) -> np.ndarray:
    """Linear RGB of an sRGB colour (IEC 61966-2-1)."""
    c = np.array(to_rgb(colour))
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.1, from the Rec. 709 primaries)."""
    return float(linear(colour) @ (0.2126, 0.7152, 0.0722))


def contrast(one: str, other: str) -> float:
    """Contrast ratio of WCAG 2.1."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def lab(rgb: np.ndarray) -> np.ndarray:
    """CIE L*a*b* (1976, D65) of linear RGB."""
    to_xyz = np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    )
    share = to_xyz @ np.clip(rgb, 0, 1) / to_xyz.sum(axis=1)
    x, y, z = np.where(share > (6 / 29) ** 3, np.cbrt(share), share * (29 / 6) ** 2 / 3 + 4 / 29)
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


@pytest.mark.parametrize(
    ("colour", "least"),
    [(INK, 4.5), (QUIET_INK, 4.5), *((line.colour, 3.0) for line in LINES.values())],
)
def test_text_and_lines_have_the_contrast_that_wcag_asks(colour, least):
    """WCAG 2.1: 4.5 : 1 of body text (criterion 1.4.3), 3 : 1 of large text and graphics (1.4.3 and
    1.4.11), which lines and their names are."""
    ratio = contrast(colour, PAPER)
    assert ratio >= least, f"{colour} on {PAPER}: {ratio:.2f}"


@pytest.mark.parametrize("sight", MACHADO)
def test_model_colours_stay_apart_for_every_kind_of_sight(sight):
    """Simulation of Machado, Oliveira & Fernandes 2009 (IEEE TVCG 15, 1291), severity 1. The
    matrices are from memory (their rows add up to 1, which is checked). Wanted: a CIE 1976
    difference of 20, nearly ten times the just noticeable 2.3 (Mahy et al. 1994)."""
    matrix = MACHADO[sight]
    assert matrix.sum(axis=1) == pytest.approx(1.0, abs=1e-5)
    seen = {name: lab(matrix @ linear(line.colour)) for name, line in LINES.items()}
    gaps = {(a, b): float(np.linalg.norm(seen[a] - seen[b])) for a, b in combinations(seen, 2)}
    pair = min(gaps, key=lambda key: gaps[key])
    assert gaps[pair] > 20, f"{sight}: {pair} differ by {gaps[pair]:.1f}"


def test_models_differ_in_their_dashes_too():
    dashes = [line.dashes for line in LINES.values()]
    assert len(set(dashes)) == len(dashes)


def test_faster_water_is_always_lighter():
    """A map whose lightness runs one way reads the same in grey and to any eye."""
    ramp = water_map("speed")(np.linspace(0, 1, 64))[:, :3]
    lightness = [luminance(tuple(colour)) for colour in ramp]
    assert np.all(np.diff(lightness) > 0)
    assert to_rgb(STILL_TO_FAST[0]) == pytest.approx(ramp[0], abs=0.01)


def test_all_type_is_at_least_three_per_cent_of_the_slide():
    """Common practice, no source: type of 3 % of the height is read from the last row."""
    with house_style():
        sizes = [float(mpl.rcParams[key]) for key in ("font.size", "xtick.labelsize")]
    share = min(sizes) / (SLIDE[1] * 72)
    assert share > 0.0295, f"{share:.4f}"


def test_the_house_style_leaves_the_settings_of_the_user_as_they_were():
    before = mpl.rcParams["font.size"]
    with house_style():
        assert mpl.rcParams["font.size"] != before
    assert mpl.rcParams["font.size"] == before


def test_times_read_to_three_figures_and_share_a_unit_side_by_side():
    shown = {0.0952: "95.2 ms", 0.512: "0.512 s", 2.117: "2.12 s", 31.4: "31.4 s", 123.4: "123 s"}
    assert {t: seconds(t) for t in shown} == shown
    assert time_unit(0.1) == (1e3, "ms")
    assert seconds(0.212, longest=0.7) == "0.212 s"


@pytest.mark.parametrize("suffix", [".png", ".svg"])
def test_a_figure_is_written_in_the_format_of_its_suffix(tmp_path, suffix):
    path = tmp_path / f"figure{suffix}"
    with house_style():
        save_figure(Figure(figsize=SLIDE), path)
    start = path.read_bytes()[:64]
    assert start.startswith(b"\x89PNG" if suffix == ".png" else b"<?xml")


def test_an_unknown_suffix_is_refused_with_the_known_ones(tmp_path):
    with pytest.raises(ResultError, match=r"ends in \.png or \.svg"):
        save_figure(Figure(), tmp_path / "figure.bmp")


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
    told = [t.get_text() for t in figure.findobj(Text) if t not in stamp]
    assert not [text for text in told if re.search(r"\d\.\d", text)]
    assert "0,125 s" in told
    assert any("," in label.get_text() for label in axes.get_xticklabels())
    assert re.search(r"\d\.\d", stamp[0].get_text())


def test_a_heading_of_ones_own_stays_as_it_is():
    figure = Figure()
    title(figure, "Take 1.2")
    comma_figure(figure, {HEADING})
    assert figure.texts[0].get_text() == "Take 1.2"
