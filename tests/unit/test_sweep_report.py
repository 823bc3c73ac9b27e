"""The report of a sweep is one whole page as well: curves, film, every run, and what is missing."""

import re
from pathlib import Path

import pytest
from test_report import Tags

from console import call
from sinkbowl.sweeps.index import Sweep, SweepRun, read_sweep, write_index
from sinkbowl_post.reference_curves.table import read_points
from sinkbowl_post.reporting.sweep_report import conclusion, mass_words, sweep_report
from synthetic import CASE_TEXT, write_faster_result

pytestmark = pytest.mark.slow

HOLES = (20, 30, 40, 50)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four made-up runs, and one that failed."""
    place = tmp_path_factory.mktemp("holes")
    runs = []
    for number, hole in enumerate(HOLES, start=1):
        write_faster_result(place / f"{number}.h5", f"{hole} mm", 0.1 * hole)
        words = (f"{hole} mm",)
        runs.append(SweepRun(f"{number}", f"{number}.h5", (1e-3 * hole,), words, "finished", 1.0))
    runs.append(SweepRun("5", "5.h5", (0.06,), ("60 mm",), "failed", reason="too wide"))
    write_index(Sweep(place, "Holes of a cup", CASE_TEXT, "", ("hole.diameter",), tuple(runs)))
    return place


@pytest.fixture(scope="module")
def page(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "holes.html"
    sweep_report(read_sweep(folder), path)
    return path


def test_nothing_lies_elsewhere_and_every_picture_has_words(page):
    """Data URLs (RFC 2397) only; text alternatives, WCAG 2.1, 1.1.1 (from memory)."""
    tags = Tags(page).found
    for _, attrs in tags:
        for name in ("src", "href", "poster"):
            assert (attrs.get(name) or "data:").startswith("data:")
    pictures = [attrs for tag, attrs in tags if tag == "img"]
    assert len(pictures) == 3  # still, check, curves
    assert all(len(attrs["alt"] or "") > 40 for attrs in pictures)
    assert [tag for tag, _ in tags].count("video") == 1


def test_it_tells_every_run_and_what_is_missing(page):
    text = page.read_text(encoding="utf-8")
    for hole in HOLES:
        assert f"<td>{hole} mm</td>" in text
    assert "4 of 5" in text
    assert re.search(r"not finished</th><td>5<", text)
    assert "20 mm, 30 mm, 50 mm" in text or "20 mm, 40 mm, 50 mm" in text  # in the film
    assert "diameter = &#34;20 mm&#34;" in text


def test_the_command_takes_a_folder(folder, tmp_path):
    assert call("report", folder, "-o", tmp_path / "holes.html") == 0
    assert (tmp_path / "holes.html").stat().st_size > 10_000


def test_a_folder_without_a_sweep_is_refused(tmp_path, capsys):
    assert call("report", tmp_path, "-o", tmp_path / "page.html") == 2
    assert "sinkbowl sweep" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_it_names_the_mass_and_concludes_before_a_folded_list(page):
    """200 g is what the synthetic case states."""
    text = page.read_text(encoding="utf-8")
    assert "4 bowls of 200 g" in text
    told, folded = text.index("From the narrowest hole, 20 mm"), text.index("<details>")
    assert told < folded < text.index("heave, m/", folded)


def test_a_conclusion_has_three_sentences(folder):
    points, _ = read_points([folder])
    told = conclusion(points)
    assert len(re.findall(r"\.(?= |$)", told)) == 3
    assert "to the widest, 50 mm" in told


def test_masses_are_told_as_a_range():
    assert mass_words([0.2, 0.2]) == "200 g"
    assert mass_words([0.24, 0.16]) == "160 to 240 g"
