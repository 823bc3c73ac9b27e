"""The trial sheet: what it says, and that it fits on its page."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from sinkbowl.bowl.ballast import Ballast, Tube
from sinkbowl.case.case import load_case, parse_case
from sinkbowl.statics.hydrostatics import dry_draft
from sinkbowl_post.check.sheet import CAUTIONS, COLUMNS, Sheet, trial_sheet
from sinkbowl_post.check.sheet_pdf import VALUES, sheet_figure, write_sheet
from sinkbowl_post.cli import main
from trials import CASE_TEXT, cup_case, sinking_time

CASES = Path(__file__).parents[2] / "cases"


def words(sheet: Sheet) -> str:
    return "\n".join(text.get_text() for text in sheet_figure(sheet).texts)


@pytest.fixture(scope="module")
def sheet() -> Sheet:
    text = CASE_TEXT.replace("[uncertainty]", "discharge_coefficient = 0.63\n[uncertainty]")
    return trial_sheet(parse_case(text, Path(), "cup.toml"))


def test_it_says_what_to_set_and_what_to_expect(sheet):
    """The time is the closed form's to 1 %: inertia matters little with an 8 mm hole."""
    text = words(sheet)
    for word in ("100 mm across", "8 mm in the centre", "200 g", "20 °C", "set it down gently"):
        assert word in text, text
    expected = dict(sheet.expected)
    seconds = float(expected["time until the rim is under"].split()[0])
    assert seconds == pytest.approx(sinking_time(0.63, 0.008), rel=0.01)
    low, high = (float(t) for t in re.findall(r"([\d.]+) s", expected["95 % of careful trials"]))
    assert low < seconds < high, expected
    draft = dry_draft(cup_case())
    assert f"{draft * 1e3:.3g} mm" in text


def test_it_has_the_usual_cautions_and_columns_that_fit_reads(sheet):
    text = words(sheet)
    for caution in CAUTIONS:
        assert caution in text, text
    for word in ("clamp", "eye protection", "away from the hand", "mains", "child", "supervisor"):
        assert word in " ".join(CAUTIONS)
    for column in COLUMNS:
        assert column in text


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("beech-dish-brass-ring", "ballast ring"),
        ("beech-dish-bare", "stay afloat"),
        ("open-ring", "film it"),
        ("steel-cup", "heels"),
        ("lily-bowl", "push"),
    ],
)
def test_every_kind_of_bowl_has_its_sheet(name, word):
    text = words(trial_sheet(load_case(CASES / f"{name}.toml")))
    assert word in text, text


def test_a_plugged_bowl_is_told_its_push():
    text = words(trial_sheet(cup_case(hole_="0.8 mm")))
    assert "stay plugged" in text
    assert "A push of" in text


def test_ballast_has_its_shape_and_a_bowl_that_falls_over_is_said_to():
    pieces = (
        Tube(0.02, 0.02, 0.03, -0.001, 0.002),
        Tube(0.03, 0.05, 0.06, 0.012, 0.008, "", "band"),
    )
    case = cup_case(height="150 mm")
    text = words(trial_sheet(replace(case, ballast=Ballast(pieces))))
    for word in ("ballast washer", "2 mm thick", "ballast band", "8 mm wide"):
        assert word in text, text
    text = words(trial_sheet(case))
    assert "falls over when it is set down empty" in text
    assert "if it is kept upright" in text


def test_a_bowl_that_its_push_opens_does_not_start_by_itself():
    case = cup_case(hole_="0.8 mm")
    pushed = replace(case, start=replace(case.start, kind="push", push=1.0))
    text = words(trial_sheet(pushed))
    assert "the push or drop starts the flow" in text
    assert "start by itself" not in text


def test_all_texts_stay_on_the_page_even_under_a_long_title(sheet):
    for one in (
        sheet,
        replace(sheet, title="Bowl of a very long name " * 8, remarks=("x " * 150,)),
    ):
        figure = sheet_figure(one)
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        width, height = canvas.get_width_height()
        names = {name for name, _ in (*one.settings, *one.expected)}
        for text in figure.texts:
            box = text.get_window_extent(canvas.get_renderer())  # type: ignore[no-untyped-call]
            assert box.x0 >= 0, text
            assert box.x1 <= 0.95 * width, text
            assert box.y0 >= 0.03 * height, text
            assert box.y1 <= height, text
            assert text.get_text() not in names or box.x1 <= (VALUES - 2) / 210 * width, text


def test_the_file_is_one_page_of_pdf_and_the_same_every_time(tmp_path, sheet):
    for name in ("a.pdf", "b.pdf"):
        write_sheet(sheet, tmp_path / name)
    content = (tmp_path / "a.pdf").read_bytes()
    assert content.startswith(b"%PDF-")
    assert len(re.findall(rb"/Type /Page\b", content)) == 1
    assert content == (tmp_path / "b.pdf").read_bytes()


def test_the_command_writes_sheet_and_figure(tmp_path, capsys):
    case = tmp_path / "cup.toml"
    case.write_text(CASE_TEXT)
    papers = tmp_path / "cup.pdf", tmp_path / "cup.png"
    with pytest.raises(SystemExit) as end:
        main(["check", str(case), "--sheet", str(papers[0]), "--figure", str(papers[1])])
    assert not end.value.code
    assert "written" in capsys.readouterr().out
    assert all(path.stat().st_size > 10_000 for path in papers)
