"""What is told of a task that takes its time: with a terminal a bar, without one some lines."""

import pytest

from sinkbowl_post.pages import progress
from sinkbowl_post.pages.progress import step_bar, time_left


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    now = [0.0]
    monkeypatch.setattr(progress, "monotonic", lambda: now[0])
    return now


def test_without_a_terminal_a_line_comes_now_and_then(clock, capsys):
    """A task of 400 s in steps of 4 s: lines at 20, 40, 80, 160 and 320 s, with what is left."""
    with step_bar("holes") as show:
        for done in range(1, 101):
            clock[0] = 4.0 * done
            show(done, 100)
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.splitlines() == [
        "holes, 5% done, about 6 min left",
        "holes, 10% done, about 6 min left",
        "holes, 20% done, about 5 min left",
        "holes, 40% done, about 4 min left",
        "holes, 80% done, about 80 s left",
    ]


def test_the_start_of_the_first_of_many_steps_is_not_its_pace(clock, capsys):
    """The first of 200 steps after 100 s, then one a second: from 160 s, 139 s are left."""
    with step_bar("film") as show:
        for done in range(1, 62):
            clock[0] = 99.0 + done
            show(done, 200)
    told = capsys.readouterr().err.splitlines()
    assert told == ["film, 0% done", "film, 30% done, about 2 min left"]


def test_what_is_over_soon_says_nothing(clock, capsys):
    with step_bar("holes") as show:
        for done in (1, 2, 3):
            clock[0] += 5.0
            show(done, 3)
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(
    ("seconds", "told"),
    [(None, ""), (2.0, "a few seconds left"), (41.0, "about 40 s left"), (200, "about 3 min left")],
)
def test_what_is_left_is_told_no_finer_than_one_can_know(seconds, told):
    assert time_left(seconds) == told
