"""The design chart says what `check` and the reduced models say, wherever one looks."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from console import call
from cups import cup_text, ring_text
from sinkbowl.case.case import Case, parse_case
from sinkbowl.common.errors import CaseError
from sinkbowl.corrected.model import best_time
from sinkbowl.design.charting.chart import Chart, chart
from sinkbowl.design.charting.column import change, chart_point_of, column_of, span, with_load
from sinkbowl.design.checking import FAST, check, verdict
from sinkbowl.design.sizing.drills import PER_METRE, SERIES
from sinkbowl.statics.stability import GROWTH_TO_TIP, stability_curve
from sinkbowl_post.chart.figure import chart_figure, drill_ticks, line_times, named_drills
from sinkbowl_post.chart.names import Room, brief
from sinkbowl_post.chart.trials import trial_marks
from sinkbowl_post.chart.zones import tipping_areas
from sinkbowl_post.pages.chart_page import chart_csv, chart_figures, chart_page, rows
from trials import cup_case, sinking_time, trials_of

TALL = cup_text(
    9,
    title="Tumbler",
    radius=35,
    height=95,
    base=3,
    density="1200 kg/m^3",
    more=ring_text(60, 25, 30),
)


@pytest.fixture(scope="module")
def cup() -> Chart:
    return chart(cup_case(hole_="8 mm").with_hole(0.008))


@pytest.fixture(scope="module")
def tall() -> Chart:
    return chart(parse_case(TALL, Path(), "tall"))


def between(of: Chart, hole: float, share: float) -> tuple[Case, float]:
    """Case with a hole and a load at a share of its span, and that load."""
    load = float(of.loads(np.array([hole]), np.array([share]))[0, 0])
    return with_load(of.case.with_hole(hole), load), load


def test_a_bowl_that_is_held_is_drawn_with_the_time_of_check():
    """Heavy ones are under from the start: they take no time, and no logarithm of it."""
    case = parse_case(cup_text(40, more='[start]\nkind = "held"\ndraft = "30 mm"'), Path(), "held")
    of = chart(case)
    told = [text.get_text() for axes in chart_figure(of).axes for text in axes.texts]
    best = best_time(case)
    assert f"this bowl, {best}" in told
    assert chart_figures(of)["best"] == best.as_dict()


@pytest.mark.slow
def test_times_are_those_of_the_closed_form_for_an_upright_cup():
    """Torricelli and Archimedes, textbook; 1.5 % for interpolation and inertia."""
    case = parse_case(
        cup_case().text.replace('"8 mm"', '"8 mm"\ndischarge_coefficient = 0.61'), Path(), "cup"
    )
    of = chart(case)
    for hole, mass in ((0.004, 0.2), (0.0063, 0.15), (0.009, 0.3)):
        low, high = of.span_at(hole)
        told = of.times(np.array([hole]), np.array([(mass - low) / (high - low)]))[0, 0]
        exact = sinking_time(0.61, hole, mass)
        assert told == pytest.approx(exact, rel=0.015), f"{hole}: {told:.4g} s, {exact:.4g} s"


@pytest.mark.slow
@pytest.mark.parametrize("model", ["heave", "corrected"])
def test_between_the_nodes_it_says_what_the_models_say(model):
    """2 % of the time where the models hold, 5 % of the filling time in periods anywhere."""
    cup = chart(cup_case(hole_="8 mm").with_hole(0.008), model=model)
    die = np.random.default_rng(20)
    for hole, share in zip(die.uniform(0.003, 0.09, 12), die.uniform(0.02, 0.95, 12), strict=True):
        case, _ = between(cup, float(hole), float(share))
        exact, at = chart_point_of(case, model), (np.array([hole]), np.array([share]))
        assert cup.periods(*at)[0, 0] == pytest.approx(exact.periods, rel=0.05)
        if exact.periods > 2.0 * FAST:
            told = cup.times(*at)[0, 0]
            assert told == pytest.approx(exact.time, rel=0.02), f"{hole}, {share}: {told}"


@pytest.mark.slow
def test_its_zones_are_the_verdicts_of_check(cup):
    die = np.random.default_rng(21)
    held = 0
    for hole, share in zip(die.uniform(0.0024, 0.02, 20), die.uniform(0.0, 0.3, 20), strict=True):
        case, _ = between(cup, float(hole), float(share))
        margin = cup.margins(np.array([hole]), np.array([share]))[0, 0]
        if abs(margin) > 2e-5:  # the border itself is interpolated
            assert (margin < 0.0) == (verdict(case) == "plugged"), (hole, share, margin)
            held += margin < 0.0
    assert held > 0


@pytest.mark.slow
def test_ends_of_the_span_float_and_go_under_at_once(cup):
    for hole in (0.004, 0.04):
        low, high = cup.span_at(hole)
        drilled = cup.case.with_hole(hole)
        assert verdict(with_load(drilled, low * (1.0 - 1e-3))) == "floats"
        assert verdict(with_load(drilled, low * (1.0 + 1e-3))) != "floats"
        assert check(with_load(drilled, high * (1.0 + 1e-3))).dry_draft is None
        assert check(with_load(drilled, high * (1.0 - 1e-3))).dry_draft is not None


@pytest.mark.slow
def test_where_it_tips_is_hatched_and_check_agrees(tall):
    from matplotlib.path import Path as Outline

    areas = [Outline(area) for area in tipping_areas(tall)]
    die = np.random.default_rng(22)
    tips = 0
    for hole, share in zip(die.uniform(0.003, 0.03, 16), die.uniform(0.05, 0.9, 16), strict=True):
        hatched = any(area.contains_point((hole, share), radius=0.0) for area in areas)
        near = any(area.contains_point((hole, share), radius=0.03) for area in areas) != hatched
        case, _ = between(tall, float(hole), float(share))
        told = verdict(case) == "tips"
        if not near:
            assert told == hatched, (hole, share)
        tips += told
    assert 0 < tips < 16


@pytest.mark.slow
def test_where_it_heels_check_says_so(tall):
    die = np.random.default_rng(7)
    heels = 0
    for hole, share in zip(die.uniform(0.003, 0.03, 16), die.uniform(0.05, 0.9, 16), strict=True):
        growth = float(tall.growths(np.array([hole]), np.array([share]))[0, 0])
        curve = stability_curve(between(tall, float(hole), float(share))[0])
        if abs(np.log((growth + 0.1) / GROWTH_TO_TIP)) > 0.3:
            assert (growth > GROWTH_TO_TIP) == curve.time_to_heel, (hole, share)
        heels += curve.time_to_heel
    assert 0 < heels < 16


@pytest.mark.slow
def test_a_chart_tells_its_columns_which_are_those_computed_alone():
    case = cup_case()
    told: list[tuple[int, int]] = []
    one = chart(case, progress=lambda *now: told.append(now))
    assert told[-1] == (len(one.columns), len(one.columns))
    again = column_of(case, one.columns[3].hole, math.inf)
    assert one.columns[3].chart_points == again.chart_points


def test_a_change_is_halved_to_its_place():
    assert change(lambda x: x < 0.3, True, False) == pytest.approx(0.3, abs=1 / 32)
    assert math.isnan(change(lambda x: True, True, True))


def test_a_bowl_that_goes_under_whatever_its_ballast_is_refused():
    heavy = TALL.replace("1200 kg/m^3", "9500 kg/m^3")
    with pytest.raises(CaseError, match="goes under at once, whatever hole and ballast"):
        span(parse_case(heavy, Path(), "heavy"))


def test_ticks_are_drills_that_can_be_bought():
    ticks = drill_ticks(0.0024, 0.096)
    assert {round(d * PER_METRE) for d in ticks} <= set(SERIES)
    assert {round(d * PER_METRE) for d in named_drills(0.001, 0.096)} <= set(SERIES)
    gaps = np.diff(np.log(ticks)) / math.log(40.0)
    assert gaps.min() > 0.005


def test_lines_are_drawn_for_round_times_and_not_too_many():
    assert line_times(0.6, 9.0) == [1, 2, 5]
    assert len(line_times(0.01, 1e5)) <= 11
    assert [brief(t) for t in (0.5, 60, 300, 3600)] == ["0.5 s", "1 min", "5 min", "1 h"]


def test_words_find_free_room_or_none():
    room = Room(10.0, 5.0)
    size = room.size("two\nlines", 16.0)
    assert size[0] == pytest.approx(0.64 * 16 / 72 * 5 / 10)
    first = room.first_free([(0.5, 0.5), (0.5, 0.8)], size)
    assert first == (0.5, 0.5)
    assert room.first_free([(0.5, 0.5), (0.5, 0.8)], size) == (0.5, 0.8)
    assert room.first_free([(0.0, 0.5)], size) is None
    nothing = np.zeros(room.shape, dtype=bool)
    assert room.inside(nothing, size) is None


@pytest.mark.slow
def test_table_holds_every_node_with_verdict_and_time(cup):
    lines = [line for line in chart_csv(cup).splitlines() if not line.startswith("#")]
    read = list(csv.DictReader(lines))
    assert len(read) == len(rows(cup)) == len(cup.columns) * len(cup.columns[0].chart_points)
    row = read[75]
    case = with_load(
        cup.case.with_hole(float(row["hole [mm]"]) / 1e3), float(row["bowl_mass [g]"]) / 1e3
    )
    assert row["verdict"] == verdict(case)
    assert float(row["sinking_time [s]"]) == pytest.approx(chart_point_of(case).time, rel=1e-3)


@pytest.mark.slow
def test_page_tells_the_borders_around_the_bowl(cup):
    figures = chart_figures(cup)
    assert figures["sinking_time_s"] == pytest.approx(chart_point_of(cup.case).time)
    opens, freely = figures["starts_from_hole_m"], figures["falls_freely_from_hole_m"]
    assert opens is None or verdict(cup.case.with_hole(opens * 1.02)) == "sinks"
    assert chart_point_of(cup.case.with_hole(freely * 1.02)).periods < FAST
    assert chart_point_of(cup.case.with_hole(freely * 0.98)).periods > FAST
    page = chart_page(cup)
    assert "8 mm hole, bowl of 200 g" in page
    assert "falls freely from" in page


def test_trials_of_one_bowl_are_one_mark():
    case = cup_case()
    marks = trial_marks(case, trials_of([0.001, 0.008, 0.008], [None, 13.0, 13.2]))
    assert [(mark.hole, mark.words) for mark in marks] == [(0.001, "plugged"), (0.008, "13.1 s")]
    assert {mark.load for mark in marks} == {case.total_mass}


@pytest.mark.slow
def test_figure_names_lines_zones_bowl_and_trials(cup, tall):
    marks = trial_marks(cup.case, trials_of([0.02], [2.1]))
    texts = {text.get_text() for text in chart_figure(cup, marks).axes[0].texts}
    assert {"2.10 s", "5 s", "floats: too light to go under"} <= texts
    assert any(text.startswith("this bowl") for text in texts)
    assert any(text.startswith("falls freely") for text in texts)
    words = {text.get_text() for text in chart_figure(tall).axes[0].texts}
    assert any(text.startswith("tips") for text in words)


@pytest.mark.slow
def test_command_writes_pictures_and_table(tmp_path, monkeypatch, cup, refused, figures, written):
    monkeypatch.setattr("sinkbowl.design.charting.chart", lambda *given, **options: cup)
    case = written(cup.case.text)
    names = [tmp_path / f"chart{suffix}" for suffix in (".png", ".svg", ".pdf", ".csv")]
    outputs = [part for name in names for part in ("-o", name)]
    assert figures("chart", case, *outputs, "--csv", tmp_path / "other.csv")["load"] == "bowl"
    assert names[0].read_bytes().startswith(b"\x89PNG")
    assert names[2].read_bytes().startswith(b"%PDF")
    assert names[3].read_text() == (tmp_path / "other.csv").read_text()
    assert call("chart", case, "-o", tmp_path / "chart.jpg") == 2
    trace = written(
        "t [s],draft [mm]\n" + "".join(f"{k},{20 + k}\n" for k in range(6)), "trace.csv"
    )
    assert "cannot be shown on a chart" in refused("chart", case, "--measured", trace)
