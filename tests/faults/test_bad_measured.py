"""Measured tables that are wrong: one message with file, row, column, what was given, what is
allowed, and exit status 2."""

from pathlib import Path

import pytest

from sinkbowl.case.case import parse_case
from sinkbowl.common.errors import CaseError
from sinkbowl_post.fitting.trial_cases import trial_cases
from sinkbowl_post.measured.measured import read_measured
from synthetic import write_result
from trials import CASE_TEXT, cup_case

HEADING = "hole [mm],mass [g],time [s],time_uncertainty [s],outcome\n"
TRACE = "t [s],draft [mm]\n0,25\n0.1,26\n0.2,27\n0.3,28\n0.4,29\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", ("no table", "time")),
        ("# only a remark\n", ("no table", "time")),
        (HEADING, ("no rows",)),
        ("hole [mm],tiem [s]\n8,12\n", ("row 1", "tiem [s]", "Did you mean time?")),
        ("hole [mm],colour\n8,red\n", ("row 1", "colour", "outcome")),
        ("hole,time [s]\n8,12\n", ("row 1", "hole", "no unit", "[mm]")),
        ("hole [g],time [s]\n8,12\n", ("row 1", "hole [g]", "not a length", "[mm]")),
        ("hole [furlong?],time [s]\n8,12\n", ("row 1", "furlong", "unit")),
        ("hole [mm],hole [mm],time [s]\n8,8,12\n", ("hole twice",)),
        ("hole [mm],mass [g]\n8,200\n", ("Has no column time",)),
        (HEADING + "8,200,12,0.1\n", ("Row 2", "4 cells", "5", "semicolons")),
        (HEADING + "8" * 200_000, ("Row 2 is not a row of a table", "limit")),
        (HEADING + "8,5,200,12,0.1,sinks\n", ("Row 2", "6 cells", "semicolons")),
        (HEADING + "wide,200,12,0.1,\n", ("row 2, hole", "wide", "alone, in mm", "0.1 mm to 5 m")),
        (HEADING + "8 g,200,12,0.1,\n", ("row 2, hole", "8 g", "not a length", "0.1 mm to 5 m")),
        (HEADING + '8,200,"1,234.5",0.1,\n', ("row 2, time", "1,234.5", "comma")),
        (HEADING + "8,200,12,0.1,\n0,200,12,0.1,\n", ("row 3, hole", "0 mm", "0.1 mm to 5 m")),
        (HEADING + "8,200,-3,0.1,\n", ("row 2, time", "-3 s", "1 ms to 7 day")),
        (HEADING + "8,200,nan,0.1,\n", ("row 2, time", "nan", "finite")),
        (HEADING + "8,200,1e999,0.1,\n", ("row 2, time", "finite")),
        (HEADING + "8,200,12,0,\n", ("row 2, time_uncertainty", "0 s", "above 0")),
        (HEADING + "8,200,12,0.1,\n,200,12,0.1,\n", ("row 3, hole", "is empty")),
        (HEADING + ",,,,\n", ("no rows",)),
        ("no.,time [s]\n1,\n2,\n", ("no row with a trial",)),
        (HEADING + "8,200,,0.1,\n", ("row 2, time", "is empty", "plugged")),
        (HEADING + "8,200,12,0.1,plugged\n", ("row 2, time", "12 s", "plugged", "empty")),
        (HEADING + "8,200,12,0.1,hung\n", ("row 2, outcome", "hung", "sinks, plugged")),
        ("t [s],draft [mm],hole [mm]\n0,25,8\n", ("Mixes the columns of a trace", "hole")),
        ("t [s]\n0\n", ("Has no column draft",)),
        (TRACE.replace("0.2,27", "0.1,27"), ("row 4, t", "0.1 s", "increase")),
        (TRACE.replace("0.2,27", "0.2,"), ("row 4, draft", "is empty")),
        ("t [s],draft [mm]\n0,25\n0.1,26\n", ("2 rows", "5 or more")),
    ],
)
def test_a_wrong_table_is_told_by_row_and_column(text, words, written):
    path = written(text, "trials.csv")
    with pytest.raises(CaseError) as refused:
        read_measured(path)
    for word in ("trials.csv", *words):
        assert word in str(refused.value), str(refused.value)


def test_bytes_that_are_no_text_are_refused(tmp_path):
    path = tmp_path / "trials.csv"
    path.write_bytes(b"hole [mm],time [s]\n8,\xff\n")
    with pytest.raises(CaseError, match=r"trials\.csv: It is not UTF-8 text"):
        read_measured(path)


def test_a_missing_table_names_those_that_are_there(tmp_path):
    (tmp_path / "other.csv").write_text("x")
    with pytest.raises(CaseError, match=r"none\.csv: It is not there.*other\.csv"):
        read_measured(tmp_path / "none.csv")


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("120,200,12,0.1,", ("row 2, hole", "120 mm", "does not fit the bowl", "96 mm")),
        ("8,20,12,0.1,", ("row 2", "sank after 12 s", "floats")),
        ("8,900,12,0.1,", ("row 2", "sank after 12 s", "goes under at once")),
        ("1,900,,,plugged", ("row 2", "stayed plugged", "goes under at once")),
    ],
)
def test_a_trial_that_contradicts_the_case_is_told_by_its_row(row, words, written):
    path = written(HEADING + row + "\n", "trials.csv")
    table = read_measured(path)
    with pytest.raises(CaseError) as refused:
        trial_cases(cup_case(), table)
    for word in ("trials.csv", *words):
        assert word in str(refused.value), str(refused.value)


def test_a_mass_below_that_of_the_ring_is_refused(tmp_path, written):
    ring = '[ballast]\nmass = "60 g"\nradius = "30 mm"\nheight = "-4 mm"\ndensity = "8500 kg/m^3"\n'
    case = parse_case(CASE_TEXT.replace("[hole]", ring + "[hole]"), tmp_path, "cup.toml")
    path = written(HEADING + "8,50,12,0.1,\n", "trials.csv")
    with pytest.raises(CaseError, match=r"row 2, mass = .*50 g.*the ballast of"):
        trial_cases(case, read_measured(path))


def test_no_uncertainty_anywhere_is_refused(written):
    path = written("time [s]\n12.5\n", "trials.csv")
    with pytest.raises(CaseError, match=r"row 2 has no uncertainty.*time_uncertainty"):
        trial_cases(cup_case(timing="0 s"), read_measured(path))


@pytest.mark.parametrize(
    ("command", "rows", "words"),
    [
        ("fit cup.toml -o a.png", "8,200,x,0.1,", ("trials.csv: row 2, time",)),
        ("compare run.h5 -o a.png", "8,200,x,0.1,", ("trials.csv: row 2, time",)),
        ("compare run.h5", "8,200,12.5,0.1,", ("no trial with a hole of 20 mm", "8 mm")),
        ("fit cup.toml", "1,200,,,plugged", ("No trial of this table sank",)),
        ("check cup.toml --figure paper.doc", "", ("paper.doc",)),
        ("check cup.toml --sheet paper.doc", "", ("paper.doc",)),
    ],
)
def test_commands_give_one_message_and_exit_status_2_and_write_nothing(
    tmp_path, monkeypatch, refused, command, rows, words
):
    monkeypatch.chdir(tmp_path)
    write_result(Path("run.h5"))
    Path("cup.toml").write_text(CASE_TEXT)
    Path("trials.csv").write_text(HEADING + rows + "\n")
    before = sorted(tmp_path.iterdir())
    shown = refused(*command.split(), *(["--measured", "trials.csv"] if rows else []))
    for word in words:
        assert word in shown, shown
    assert sorted(tmp_path.iterdir()) == before
