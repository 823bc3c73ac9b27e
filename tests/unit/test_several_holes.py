"""Several equal holes, and a hole off the axis."""

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

import cups
from sinkbowl.case.blank import around_three
from sinkbowl.case.case import Case, parse_case
from sinkbowl.common import GRAVITY
from sinkbowl.common.errors import CaseError
from sinkbowl.corrected.correction import correction
from sinkbowl.design.charting.chart import chart
from sinkbowl.design.checking import check
from sinkbowl.design.off_centre import hole_starts, offset_heel
from sinkbowl.design.sizing.sizing import size
from sinkbowl.flow.layout import lay_out
from sinkbowl.reduced import MODELS, heave, heeled_filling
from sinkbowl.reduced.discharge import discharge
from sinkbowl.reduced.heeled_filling import offset_heels, offset_moment
from sinkbowl.statics.capillarity import hole_breakthrough_head, hole_gate
from sinkbowl.statics.heel import resting_heel
from sinkbowl.statics.hydrostatics import draft_at
from sinkbowl.statics.stability import metacentric_height, stability_curve
from sinkbowl_post.chart.figure import chart_figure
from sinkbowl_post.check.sheet import trial_sheet

LOW_RING = cups.ring_text(150, 35, -6, "11340 kg/m^3")


@cache
def cup(hole: float, keys: str = "", more: str = "", mass: float = 200.0) -> Case:
    return parse_case(cups.cup_text(hole, mass=mass, more=f"{keys}\n{more}"), Path(), "cup")


def test_areas_of_equal_holes_add_in_torricellis_law():
    """Q = n C a sqrt(2 g H) (Torricelli), C given; round-off."""
    law = discharge(cup(8, "count = 3\ndischarge_coefficient = 0.62"))
    exact = 3 * 0.62 * math.pi * 0.004**2 * math.sqrt(2.0 * GRAVITY * 0.05)
    assert law.flow(0.05) == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize("head", [1e-4, 0.005, 0.01, 0.1])
def test_holes_pass_what_each_of_them_does(head):
    """They are in parallel under one head, each with its own Re, t/d and creeping resistance;
    round-off."""
    one, four = discharge(cup(1.5)), discharge(cup(1.5, "count = 4"))
    assert four.flow(head) == pytest.approx(4.0 * one.flow(head), rel=1e-12)
    assert four.coefficient_of_flow(4e-6) == pytest.approx(one.coefficient_of_flow(1e-6))
    alone = sum(discharge(cup(width)).flow(head) for width in (12, 8, 1.5))
    assert discharge(unequal(8, 12, 1.5)).flow(head) == pytest.approx(alone, rel=1e-12)


def test_narrow_holes_are_thicker_than_one_of_their_area():
    """By the law of one hole: at t/d = 2/3 a jet half fills it, at 1/3 it springs clear."""
    assert discharge(cup(3, "count = 4")).filling == pytest.approx(1 / 3)
    assert discharge(cup(6)).filling == 0.0


@pytest.mark.parametrize("keys", ["count = 1", 'count = 1\noffset = "0 mm"'])
def test_one_hole_that_is_counted_is_the_hole_that_always_was(keys):
    plain, counted = cup(20), cup(20, keys)
    assert counted.hole == plain.hole
    assert counted.bowl.hole_radius == plain.bowl.hole_radius == 0.01
    assert discharge(counted) == discharge(plain)
    for solve in MODELS.values():
        assert solve(counted).sinking_time == solve(plain).sinking_time


def test_holes_take_their_area_out_of_the_base_and_the_map_does_not_correct_them():
    """n pi d^2 t / 4 less metal than without, from first principles; its bowls have one hole."""
    three = cup(8, "count = 3")
    assert (
        correction(three, heave.solve(three)).reason == "the correction is from bowls with one hole"
    )
    solid = three.blank.drilled(1e-4).solid_volume + math.pi * 1e-4**2 / 4 * 0.002
    assert three.bowl.solid_volume == pytest.approx(solid - 3 * math.pi * 0.004**2 * 0.002)
    assert three.hole.area == pytest.approx(math.pi * three.bowl.hole_radius**2)


@pytest.mark.parametrize(
    ("widths", "one"), [((5, 5, 5, 5), 10), ((12, 9, 8), 17)], ids=["equal", "12^2 + 9^2 + 8^2"]
)
def test_holes_with_a_given_coefficient_sink_a_bowl_like_one_of_their_area(widths, one):
    """By Torricelli's law with one C only the area counts, where nothing has inertia; round-off."""
    given = "discharge_coefficient = 0.6"
    several, single = unequal(*widths, keys=given), cup(one, given)
    assert several.hole.area == pytest.approx(single.hole.area, rel=1e-12)
    times = [MODELS["quasi-static"](case).sinking_time for case in (several, single)]
    assert times[0] == pytest.approx(times[1], rel=1e-9)


def test_meniscus_of_each_hole_is_that_of_its_own_width():
    case = cup(2, "count = 5", mass=60)
    gate = hole_gate(case)
    assert gate.breakthrough_head == hole_breakthrough_head(0.002, case.water, case.contact_angle)
    one = hole_gate(cup(2 * math.sqrt(5), mass=60))
    print("heads that open [mm]", 1e3 * gate.breakthrough_head, 1e3 * one.breakthrough_head)
    assert gate.breakthrough_head > 2.0 * one.breakthrough_head


@pytest.mark.parametrize(("count", "around"), [(2, 2.0), (3, 2.1547), (7, 3.0), (9, 3.6131)])
def test_holes_have_room_up_to_their_closest_packing(count, around):
    """Radius of the least circle around n unit circles, published tables (from memory)."""
    widest = 96.0 / around
    assert cup(widest * 0.999, f"count = {count}").hole.count == count
    with pytest.raises(CaseError, match=r"hole\.diameter .*leaves no room for"):
        cup(widest * 1.001, f"count = {count}")


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        *((f"count = {n}", r"hole\.count .*whole number from 1 to 9") for n in ("0", "10", "2.0")),
        *((f"count = {n}", r"hole\.count .*whole number from 1 to 9") for n in ("true", '"3"')),
        ('offset = "50 mm"', r"hole\.offset .*beyond the base"),
        ('offset = "45 mm"', r"hole\.diameter .*at most 6 mm"),
    ],
)
def test_strange_numbers_of_holes_and_a_hole_beyond_the_base_are_refused(keys, says):
    with pytest.raises(CaseError, match=says):
        cup(8, keys)


def test_flow_solver_refuses_several_holes_and_names_the_one_of_their_area():
    """d sqrt(n) = 16 mm; 12^2 + 9^2 + 8^2 = 17^2."""
    with pytest.raises(CaseError, match=r'hole\.count = 4 .*diameter = "16 mm".*"closed"'):
        lay_out(cup(8, "count = 4"))
    says = r'hole\.diameters = .*diameter = "17 mm" without diameters'
    with pytest.raises(CaseError, match=says):
        lay_out(unequal(12, 9, 8))


@pytest.mark.parametrize("command", [["run"], ["sweep", "--over", "hole.diameter=8mm:9mm:2"]])
def test_run_and_sweep_write_nothing_for_several_holes(command, tmp_path, refused, written):
    path, output = written(cups.cup_text(8, more="count = 3")), tmp_path / "out.h5"
    assert "axisymmetric" in refused(command[0], path, *command[1:], "-o", output)
    assert not output.exists()


def test_check_tells_count_and_area():
    checked = check(cup(8, "count = 3"))
    told = checked.as_dict()
    assert (told["hole_count"], told["offset_heel_deg"]) == (3, 0.0)
    assert told["hole_diameter_m"] == pytest.approx(0.008)
    assert told["hole_area_m2"] == pytest.approx(3 * math.pi * 0.004**2)
    assert "3 equal holes of 8 mm" in repr(checked)


def test_sized_holes_share_the_area_of_the_one():
    """d / sqrt(n) with a given coefficient (Torricelli); 1e-4, to which times are found."""
    case = cup(12, "discharge_coefficient = 0.6")
    alone, four = (size(case, 20.0, model="quasi-static", count=n) for n in (1, 4))
    assert four.value == pytest.approx(alone.value / 2.0, rel=1e-4)
    assert four.count == 4
    assert "a set of 4 holes of" in repr(four)
    drilled = case.with_hole(four.value, 4)
    again = parse_case(drilled.text, Path(), "again")
    assert MODELS["quasi-static"](again).sinking_time == pytest.approx(20.0, rel=1e-4)


def test_sizing_keeps_the_number_of_the_case_and_refuses_strange_ones():
    case = cup(6, "count = 4\ndischarge_coefficient = 0.6")
    assert size(case, 20.0, model="quasi-static").count == 4
    with pytest.raises(CaseError, match="from 1 to 9"):
        size(case, 20.0, count=12)


@pytest.mark.parametrize("level", [-0.002, 0.01, 0.02])
def test_small_heel_by_an_offset_is_moment_over_righting_moment(level):
    """tan(phi) = M / (rho g V GM), textbook; 1 %: heels are below a tenth of a degree. Dry, and
    with water too deep to run off one side of the base."""
    case = cup(10, 'offset = "1 mm"', LOW_RING, mass=150)
    draft, ring = draft_at(case, level), case.ballast
    displaced = float(case.bowl.outer_volume(draft)) + ring.volume_below(draft)
    weight = case.water.density * GRAVITY * displaced
    moment = offset_moment(case, level)
    small = math.atan(moment / (weight * metacentric_height(case, level)))
    found = resting_heel(case, level, moment)
    print("heel [deg]", math.degrees(found or 0.0), "small angles", math.degrees(small))
    assert found == pytest.approx(small, rel=0.01)


def test_farther_hole_heels_the_bowl_more_and_none_in_the_middle():
    """The largest heel of the filling is no less than that of any one level of it."""
    heels = []
    for offset in (0, 2, 10):
        case = cup(20, f'offset = "{offset} mm"', LOW_RING, mass=150)
        curve = stability_curve(case)
        heels.append(offset_heel(case, curve) or 0.0)
        alone = resting_heel(case, -0.002, offset_moment(case, -0.002))
        assert heels[-1] >= (alone or 0.0) - 1e-5
    print("heels [deg]", [math.degrees(heel) for heel in heels])
    assert heels[0] == 0.0 < heels[1] < heels[2]


def test_a_check_computes_the_heel_once(monkeypatch):
    """At every filling that is looked at its heel is worked out a single time."""
    asked: list[float] = []

    def counted(case: Case, level: float, moment: float) -> float | None:
        asked.append(level)
        return resting_heel(case, level, moment)

    monkeypatch.setattr(heeled_filling, "resting_heel", counted)
    offset_heels.cache_clear()
    result = check(cup(20, 'offset = "2 mm"', LOW_RING, mass=150))
    assert result.offset_heel is not None
    assert "off the axis" in result.hole_words
    assert 0 < len(asked) == len(set(asked))


def test_moment_of_a_jet_is_offset_times_momentum_flux():
    """e (rho Q^2 / (C a) + missing weight), from first principles: for a hole that runs full the
    jet has the hole's own speed, and nothing of the flow is contracted."""
    case = cup(2, 'offset = "10 mm"\nedge = "rounded"')
    level = 0.01
    draft, law = draft_at(case, level), discharge(case)
    flow = law.flow(draft - 0.002 - level)
    density = case.bowl.mass / case.bowl.solid_volume
    missing = (density - case.water.density) * GRAVITY * 0.002 * law.area
    exact = 0.01 * (case.water.density * flow**2 / law.area + missing)
    assert offset_moment(case, level) == pytest.approx(exact, rel=1e-9)


def test_hole_beside_the_axis_is_warned_of():
    case = cup(10, 'offset = "5 mm"', LOW_RING, mass=150)
    text = repr(check(case))
    assert "WARNING: the hole is 5 mm off the axis" in text
    middle = replace(case, finish=replace(case.finish, offset=0.0))
    assert "WARNING" not in repr(check(middle))


def unequal(*widths: float, keys: str = "", **more: float) -> Case:
    """The cup with holes of these diameters [mm]."""
    text = cups.cup_text(1, more=keys, **more)
    listed = ", ".join(f'"{width:g} mm"' for width in widths)
    return parse_case(text.replace('diameter = "1 mm"', f"diameters = [{listed}]"), Path(), "cup")


def test_a_list_of_equal_holes_is_a_count():
    listed, counted = unequal(8, 8, 8), cup(8, "count = 3")
    assert (listed.hole, discharge(listed)) == (counted.hole, discharge(counted))
    assert heave.solve(listed).sinking_time == heave.solve(counted).sinking_time


@pytest.mark.parametrize("head", [1e-4, 0.005, 0.1])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_flow_is_shared_out_so_that_each_hole_needs_the_same_head(head, sign):
    """As much as each of them alone at what it passes under that head, from first principles. In a
    base so wide that its rim is far from all holes. Stated tolerance: 1e-4, the size of what is
    left of the shares after their rounds."""
    laws = [discharge(cup(width)) for width in (12, 8, 1.5)]
    alone = [sign * law.jet(sign * law.flow(head), 0.0, 1e3)[1] for law in laws]
    law = discharge(unequal(12, 8, 1.5))
    together = sign * law.jet(sign * law.flow(head), 0.0, 1e3)[1]
    print("energy over g H less 1:", *(e / (GRAVITY * head) - 1.0 for e in (*alone, together)))
    assert (1.0 - 1e-4) * min(alone) <= together <= (1.0 + 1e-4) * max(alone)
    assert together == pytest.approx(GRAVITY * head, rel=0.01)  # Torricelli, with resistance


def test_the_widest_of_unequal_holes_starts_first():
    """Its meniscus holds least (Young-Laplace); a narrow one needs more head."""
    case = unequal(2, 6, mass=60)
    first, last = hole_starts(case)
    assert (first.diameter, last.diameter) == pytest.approx((0.006, 0.002))
    assert not first.gate.plugged
    assert last.gate.breakthrough_head == hole_breakthrough_head(
        last.diameter, case.water, case.contact_angle
    )
    assert last.gate.plugged == (last.gate.head < last.gate.breakthrough_head)
    assert "the one of 6 mm starts first" in check(case).hole_words


@pytest.mark.parametrize(
    ("widths", "around"),
    [((50, 30), 80.0), ((50, 30, 10), 80.0), ((500 / 11, 500 / 14, 500 / 15), 500 / 6)],
)
def test_unequal_holes_have_room_where_a_circle_around_them_has(widths, around):
    """Two side by side; a third in the gap beside them, at most 24.5 wide here; three that touch.
    The three and the circle around them are the integral quadruple of bends (-6, 11, 14, 15) of
    Apollonian packings; 1 + 2/sqrt(3) around three
    equal ones, 2 with two and a dot (published tables, from memory)."""
    assert around_three(1.0, 1.0, 1.0) == pytest.approx(1.0 + 2.0 / math.sqrt(3.0), rel=1e-12)
    assert around_three(1.0, 1.0, 1e-9) == 2.0
    factor = 96.0 / around
    assert unequal(*(0.999 * factor * w for w in widths)).hole.count == len(widths)
    with pytest.raises(CaseError, match=r"hole\.diameters .*leaves no room for"):
        unequal(*(1.001 * factor * w for w in widths))


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ('diameters = ["8 mm"]', r"hole\.diameters .*is not a list of holes.*2 to 9"),
        ('diameters = "8 mm"', r"hole\.diameters .*is not a list of holes"),
        ('diameters = ["8 mm", "9"]', r"hole\.diameters .*has a diameter that has no unit"),
        ('diameters = ["8 mm", 9]', r"hole\.diameters .*has a diameter that has no unit"),
        ('diameter = "8 mm"\ndiameters = ["8 mm", "9 mm"]', r"hole\.diameter .*Leave it out"),
        ('count = 2\ndiameters = ["8 mm", "9 mm"]', r"hole\.count .*Leave it out"),
        ("count = 2", r"hole\.diameter is missing.*diameter of the hole"),
    ],
)
def test_strange_lists_of_holes_are_refused(keys, says):
    with pytest.raises(CaseError, match=says):
        parse_case(cups.cup_text(1).replace('diameter = "1 mm"', keys), Path(), "cup")


def test_another_widest_hole_takes_the_others_with_it():
    """In the text as well: what is stored says what was computed."""
    wider = unequal(12, 8).with_hole(0.015)
    assert wider.hole.each == pytest.approx((0.015, 0.010))
    again = parse_case(wider.text, Path(), "cup")
    assert again.hole.each == pytest.approx(wider.hole.each, rel=1e-12)
    equal = parse_case(wider.with_hole(0.006, 4).text, Path(), "cup")
    assert equal.hole.each == pytest.approx((0.006,) * 4)


def test_unequal_holes_are_sized_in_proportion():
    """What is found takes as long as was wished, by the same model (within its quick steps)."""
    case = unequal(12, 8)
    found = size(case, 6.0, "hole", "heave")
    assert heave.solve(case.with_hole(found.value)).sinking_time == pytest.approx(6.0, rel=1e-3)
    assert "a set of holes of " in repr(found)


@pytest.mark.slow
def test_check_and_sheet_tell_every_hole(tmp_path):
    figures = check(unequal(12, 8)).as_dict()
    assert figures["hole_count"] == 2
    assert [hole["diameter_m"] for hole in figures["holes"]] == pytest.approx([0.012, 0.008])
    assert all(hole["starts"] for hole in figures["holes"])
    told = dict(trial_sheet(unequal(12, 8)).settings)
    assert told["hole"].startswith("12 and 8 mm in the centre of the base")


@pytest.mark.slow
def test_chart_of_several_holes_is_the_heave_models_and_says_whose_diameter(tmp_path):
    """The map has no such bowls; the corrected model would be heave under another name."""
    charted = chart(unequal(12, 8))
    assert charted.model == heave.MODEL
    labels = [axes.get_xlabel() for axes in chart_figure(charted).axes]
    assert any(label.startswith("widest of 2 holes in proportion [mm]") for label in labels)
