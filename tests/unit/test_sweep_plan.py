"""From the wish of a sweep to the cases of its runs."""

import numpy as np
import pytest

from coarse_cups import STEEL, case_of
from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.common.errors import CaseError
from sinkbowl.sweeps.plan import MOST_RUNS, plan_sweep, read_runs


def numbers(over: object) -> np.ndarray:
    plan = plan_sweep(case_of(STEEL), over)
    return np.array([[value.number for value in run.values] for run in plan.runs])


def test_range_is_linear_with_both_ends():
    """numpy.linspace."""
    found = numbers({"hole.diameter": "12mm:92mm:11"})[:, 0]
    assert found == pytest.approx(np.linspace(0.012, 0.092, 11), rel=1e-11)


def test_logarithmic_range_has_equal_ratios_and_ends_may_have_other_units():
    """numpy.geomspace."""
    found = numbers({"hole.diameter": "1cm:80mm:4:log"})[:, 0]
    assert found == pytest.approx(np.geomspace(0.01, 0.08, 4), rel=1e-11)


def test_two_keys_give_all_pairs_and_a_run_holds_what_its_name_says():
    plan = plan_sweep(
        case_of(STEEL), {"hole.diameter": "30 mm, 40mm", "bowl.mass": [0.2, 0.25, 0.3]}
    )
    assert [run.name for run in plan.runs][:2] == ["1-30mm-0.2kg", "2-30mm-0.25kg"]
    assert len(plan.runs) == 6
    last = plan.runs[-1]
    assert (last.case.hole.diameter, last.case.bowl.mass) == pytest.approx((0.04, 0.3))
    assert 'mass = "0.3 kg"' in last.case.text
    assert last.file == "6-40mm-0.3kg.h5"


def test_temperature_range_goes_through_its_offset():
    """0 degC is 273.15 K, by definition."""
    found = numbers({"water.temperature": "10 degC:30 degC:3"})[:, 0]
    assert found == pytest.approx([283.15, 293.15, 303.15])


def test_outline_file_is_still_found():
    case = load_case(shipped_case("lily-bowl"))
    plan = plan_sweep(case, {"hole.diameter": "10mm,12mm"})
    assert plan.runs[1].case.path == case.path
    assert plan.runs[1].case.bowl.hole_radius == pytest.approx(0.006)


@pytest.mark.parametrize(
    "text",
    [
        "# runs\nhole.diameter [mm],bowl.mass [g]\n30,200\n40,250\n",
        "hole.diameter;bowl.mass\n30 mm;200 g\n4,0 cm;0,25 kg\n",
        "hole.diameter (mm)\tbowl.mass\n30\t200 g\n40\t250 g\n",
    ],
)
def test_table_has_a_row_a_run(text, written):
    file = written(text, "runs.csv")
    assert numbers(read_runs(file)) == pytest.approx(np.array([[0.03, 0.2], [0.04, 0.25]]))


@pytest.mark.parametrize(
    ("over", "words"),
    [
        ({"hole.diametre": "6mm,7mm"}, ("hole.diametre", "hole.diameter")),
        ({"hole.diameter": "20mm:40mm"}, ("is not a range", "first:last:count")),
        ({"hole.diameter": "20mm:40mm:1"}, ("1 values",)),
        ({"hole.diameter": "20mm:40mm:3:exp"}, ("is not a range",)),
        ({"ballast.height": "-4 mm:4 mm:3:log"}, ("logarithmic", "above 0")),
        ({"hole.diameter": "20mm,2cm"}, ("twice",)),
        ({"hole.diameter": "20mm,"}, ("hole.diameter",)),
        ({"hole.diameter": "20mm,120 mm"}, ("hole.diameter", "120 mm", "cup.toml")),
        ({"hole.diameter": "20"}, ("hole.diameter", "no unit")),
        ({"start.push": "0.1 N s,0.2 N s"}, ("start.push", 'kind = "push"')),
        ({"hole.diameter": "1mm,20 mm"}, ("flow.cell", "too coarse")),
        ({}, ("0 runs",)),
        ([], ("0 runs",)),
        ({"hole.diameter": "20mm:40mm:100", "bowl.mass": "200g:300g:100"}, (str(MOST_RUNS),)),
        ([{"hole.diameter": "20mm"}, {"bowl.mass": "20g"}], ("bowl.mass", "same keys")),
    ],
)
def test_plan_that_cannot_be_computed_is_refused(over, words):
    with pytest.raises(CaseError) as caught:
        plan_sweep(case_of(STEEL), over)
    for word in words:
        assert word in str(caught.value)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, "is not there"),
        (b"", "no table.*one line per run"),
        (b"hole.diameter [mm]\n", "no rows"),
        (b"# runs\nhole.diameter [mm]\n\n3,4\n", "Row 4 has 2 cells"),
        (b"hole.diameter [mm]\n" + b"3" * 200_000, "Row 2 is not a row.*limit"),
        (b"diameter [mm]\n3\n", "hole.diameter"),
        (b"hole.diameter [mm],bowl.mass [g]\n3\n", "Row 2 has 1 cell, the"),
        (b"hole.diameter [mm],hole.diameter [mm]\n3,4\n", "twice"),
        (b"\xff\xfe\x00", "UTF-8"),
    ],
)
def test_table_that_is_none_is_refused(tmp_path, content, words):
    file = tmp_path / "runs.csv"
    if content is not None:
        file.write_bytes(content)
    with pytest.raises(CaseError, match=words) as caught:
        read_runs(file)
    assert "runs.csv" in str(caught.value)


@pytest.mark.parametrize(
    ("title", "over", "run", "bowl"),
    [
        (
            "Stainless cup, 40 mm hole",
            {"hole.diameter": ["16 mm"]},
            "Stainless cup, hole diameter 16 mm",
            "Stainless cup",
        ),
        (
            "Stainless cup, 140 mm hole",
            {"hole.diameter": ["16 mm"]},
            "Stainless cup, 140 mm hole, hole diameter 16 mm",
            "Stainless cup, 140 mm hole",
        ),
        (
            "Cup, 40 mm hole, 200 g",
            {"hole.diameter": ["16 mm"], "bowl.mass": ["160 g"]},
            "Cup, hole diameter 16 mm, bowl mass 160 g",
            "Cup",
        ),
        ("40mm hole", {"hole.diameter": ["16 mm"]}, "40mm hole, hole diameter 16 mm", "40mm hole"),
    ],
)
def test_a_run_is_titled_by_what_was_varied(title, over, run, bowl):
    """What the title says of the old value goes, where it stands between commas; a title that says
    nothing else stays."""
    case = case_of(f'title = "{title}"\n' + STEEL.replace('title = "Coarse steel cup"\n', ""))
    (planned,) = plan_sweep(case, over).runs
    assert planned.case.title == run
    assert case_of(planned.case.text).title == bowl
