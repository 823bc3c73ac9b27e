"""`sinkbowl log`: a logbook at the tub that the other commands read."""

import json
import subprocess
import sys
from pathlib import Path
from statistics import fmean, stdev

import pytest
from scipy.stats import ttest_1samp

from console import call
from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.corrected.model import best_time
from sinkbowl_post.measured.mean_time import critical_value, grubbs
from sinkbowl_post.measured.measured import read_measured

HANDBOOK = (199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57)


def logged(book: Path, *more: object) -> int:
    return call("log", book, "--hole", "40 mm", *more)


def test_the_handbook_s_example_comes_out():
    """NIST/SEMATECH e-Handbook 1.3.5.17.1, eight masses: G = 2.4687, critical 2.032 (one-sided).
    From memory; G is 2.46876, so the handbook's last digit is cut off: within one unit of it."""
    found = grubbs(HANDBOOK)
    assert found.g == pytest.approx(2.4687, abs=1e-4)
    assert critical_value(8, 0.05) == pytest.approx(2.032, abs=5e-4)
    assert found.farthest == 7
    assert found.outlier


@pytest.mark.parametrize(
    ("count", "critical"), [(3, 1.155), (5, 1.715), (10, 2.290), (20, 2.709), (30, 2.908)]
)
def test_critical_values_are_the_published_ones(count, critical):
    """Grubbs and Beck 1972, Technometrics 14, 847: two-sided at 5 %, from memory."""
    assert critical_value(count, 0.025) == pytest.approx(critical, abs=1.1e-3)


def test_two_values_or_equal_ones_are_no_matter_for_a_test():
    assert grubbs([1.0, 2.0]) is None
    assert grubbs([1.0, 1.0, 1.0]) is None


def test_beside_a_trial_stands_the_time_of_its_own_hole(tmp_path, capsys):
    path = shipped_case("steel-cup-wide-hole")
    more = ("--case", path, "--hole", "36 mm", "--time", "0.6 s", "--json")
    assert call("log", tmp_path / "trials.csv", *more) == 0
    best = best_time(load_case(path).with_hole(0.036))
    assert json.loads(capsys.readouterr().out)["best"]["time_s"] == pytest.approx(best.time)


def test_trials_add_up_to_a_mean_with_its_interval(tmp_path, capsys):
    """Interval against scipy's own t-test interval."""
    book, times = tmp_path / "trials.csv", [0.52, 0.53, 0.51, 0.525]
    for time in times:
        assert logged(book, "--time", f"{time} s", "--json") == 0
        told = json.loads(capsys.readouterr().out)
    interval = ttest_1samp(times, 0.0).confidence_interval(0.95)
    assert told["mean_s"] == pytest.approx(fmean(times))
    assert told["half_width_s"] == pytest.approx(0.5 * (interval.high - interval.low))
    assert told["grubbs"] == pytest.approx((fmean(times) - 0.51) / stdev(times))
    assert not told["last_is_outlier"]
    read = read_measured(book)
    assert [trial.time for trial in read.trials] == times
    heading = book.read_text(encoding="utf-8").splitlines()[0]
    assert heading == "hole [mm],time [s],outcome,date,version"


def test_an_outlier_is_told_when_it_is_the_last_and_when_it_was_before(tmp_path, capsys):
    book = tmp_path / "trials.csv"
    for time in ("0.520 s", "0.524 s", "0.518 s", "0.522 s", "0.521 s", "0.700 s"):
        assert logged(book, "--time", time, "--yes") == 0
    assert "The last trial is an outlier" in capsys.readouterr().out
    assert logged(book, "--time", "0.519 s") == 0
    assert "An earlier trial, 0.700 s, is an outlier" in capsys.readouterr().out


def test_other_holes_do_not_enter_the_mean(tmp_path, capsys):
    book = tmp_path / "trials.csv"
    assert call("log", book, "--hole", "20 mm", "--time", "2 s") == 0
    capsys.readouterr()
    assert logged(book, "--time", "0.5 s", "--json") == 0
    assert json.loads(capsys.readouterr().out)["mean_s"] == pytest.approx(0.5)


def test_a_case_is_noted_and_the_fit_reads_the_logbook(tmp_path, capsys, answer):
    case, book = shipped_case("steel-cup-wide-hole"), tmp_path / "trials.csv"
    for time in ("0.52 s", "0.53 s", "0.51 s"):
        assert call("log", book, "--time", time, "--case", case) == 0
    assert ",sha256:" in book.read_text(encoding="utf-8")
    capsys.readouterr()
    assert "0.6" in answer("fit", case, "--measured", book)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--hole", "40 mm"), "either --time or --plugged"),
        (("--hole", "40 mm", "--time", "0.5 s", "--plugged"), "either --time or --plugged"),
        (("--hole", "40 mm", "--time", "0.5"), "has no unit"),
        (("--hole", "40 mm", "--time", "-1 s"), "out of range"),
        (("--hole", "40 mm", "--time", "nan s"), "not a finite number"),
        (("--hole", "=1+1", "--time", "1 s"), "--hole"),
        (("--time", "0.5 s"), "--hole"),
        (
            ("--time", "520 s", "--case", "CASE"),
            'this trial, time = "520 s" is 1040 times longer',
        ),
        (("--time", "0.5 s", "--hole", "200 mm", "--case", "CASE"), "does not fit"),
    ],
)
def test_nonsense_is_refused_and_nothing_written(words, told, tmp_path, refused):
    case = str(shipped_case("steel-cup-wide-hole"))
    book = tmp_path / "trials.csv"
    assert told in refused("log", book, *(case if word == "CASE" else word for word in words))
    assert not book.exists()


def test_a_table_of_one_s_own_goes_on_in_its_units(written):
    """Remarks, old rows and the decimal comma stay; columns that lack are added."""
    book = written("# Tub in the yard\nhole [cm];time [ms]\n4,0;520,5\n", "trials.csv")
    assert logged(book, "--time", "0.5315 s") == 0
    lines = book.read_text(encoding="utf-8").splitlines()
    assert lines[:3] == [
        "# Tub in the yard",
        "hole [cm];time [ms];outcome;date;version",
        "4,0;520,5;;;",
    ]
    assert lines[3].startswith("4;531,5;sinks;20")
    read = read_measured(book)
    assert [trial.time for trial in read.trials] == pytest.approx([0.5205, 0.5315])


def test_a_row_names_what_the_others_name(tmp_path, capsys, figures):
    """The reader takes an empty cell for no mass of the case's, so that none is left empty."""
    book = tmp_path / "trials.csv"
    assert logged(book, "--time", "0.52 s", "--mass", "200 g") == 0
    before = book.read_text(encoding="utf-8")
    assert logged(book, "--time", "0.52 s") == 2
    assert "Give --mass" in capsys.readouterr().err
    assert book.read_text(encoding="utf-8") == before
    case = shipped_case("steel-cup-wide-hole")
    assert logged(book, "--time", "0.52 s", "--case", case) == 0
    capsys.readouterr()
    assert figures("log", book, "--hole", "40 mm", "--plugged", "--mass", "0.2 kg")["plugged"] == 1


def test_decimal_commas_begin_and_go_on(tmp_path):
    book = tmp_path / "trials.csv"
    assert logged(book, "--time", "0.52 s", "--comma") == 0
    assert logged(book, "--time", "0.53 s") == 0
    assert ";0,53;" in book.read_text(encoding="utf-8")
    read = read_measured(book)
    assert [trial.time for trial in read.trials] == [0.52, 0.53]


def test_what_is_no_logbook_stays_as_it_was(tmp_path):
    for content in ("t [s],draft [mm]\n0,1\n1,2\n2,3\n3,4\n4,5\n", "nothing\nof,the,kind\n"):
        book = tmp_path / "trace.csv"
        book.write_text(content, encoding="utf-8")
        assert logged(book, "--time", "0.5 s") == 2
        assert book.read_text(encoding="utf-8") == content
        assert not [file for file in tmp_path.iterdir() if file.name.startswith(".sinkbowl")]


@pytest.mark.slow
def test_two_who_log_at_once_lose_nothing(tmp_path):
    book, each = tmp_path / "trials.csv", 8
    script = (
        "import sys; from pathlib import Path; from sinkbowl_post.logbook.log import log_trial\n"
        "for k in range(int(sys.argv[2])):\n"
        "    log_trial(Path(sys.argv[1]), hole=0.04, time=0.5 + 0.001 * k)\n"
    )
    command = [sys.executable, "-c", script, str(book), str(each)]
    both = [subprocess.Popen(command) for _ in range(2)]
    assert [one.wait(timeout=120) for one in both] == [0, 0]
    read = read_measured(book)
    assert len(read.trials) == 2 * each
