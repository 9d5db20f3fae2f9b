"""The simulated worlds are what they say: pace, wobble, accidents, fading, form, how often children are measured."""

import numpy as np
import pytest

from progress.judging.engine.stories import WORTHWHILE_GAIN
from tests.bench.odd_terms import DIPPING, with_slips
from tests.bench.true_lines import DIP_WEEKS, FASTEST_GAIN, SLOWEST_GAIN
from tests.bench.worlds import TERM_WEEKS, classes


@pytest.fixture(scope="module")
def plain():
    return list(classes("plain", 25, 3))


@pytest.fixture(scope="module")
def rough():
    return list(classes("rough", 25, 3))


def lines_of(worlds):
    return [line for world in worlds for line in world.lines]


def test_every_line_has_about_five_results_in_four_weeks(plain):
    results = sum(len(world.facts) for world in plain) / len(lines_of(plain)) / TERM_WEEKS
    assert results == pytest.approx(1.25, abs=0.06)


def test_a_working_programme_brings_three_to_ten_rises_in_ten_weeks(plain):
    paces = [line.pace[0] / line.strand.gain for line in lines_of(plain) if line.fate != "flat"]
    assert min(paces) >= SLOWEST_GAIN and max(paces) <= FASTEST_GAIN
    assert np.mean(paces) == pytest.approx(1.0, abs=0.05)


def test_a_slow_gain_is_below_a_working_programme_and_still_worth_a_word():
    lines = [line for line in lines_of(classes("plain", 25, 3, gains="slow")) if line.fate != "flat"]
    slow = [line for line in lines if line.pace[0] < SLOWEST_GAIN * line.strand.gain]
    assert len(slow) / len(lines) == pytest.approx(1 / 6, abs=0.04)
    assert all(line.pace[0] >= WORTHWHILE_GAIN[line.strand.facts.scale] for line in slow)


def test_one_result_in_twenty_five_is_an_accident_in_the_plain_world_only(plain, rough):
    assert np.mean([each for world in plain for each in world.accidents]) == pytest.approx(0.04, abs=0.004)
    assert not any(each for world in rough for each in world.accidents)


def test_a_child_that_still_gains_is_no_stall(plain, rough):
    for line in (line for line in lines_of([*plain, *rough]) if line.fate in ("stall", "flat", "at_target")):
        worthwhile = WORTHWHILE_GAIN[line.strand.facts.scale]
        assert line.pace[int(line.change)] < worthwhile
        assert line.change == line.term_start or line.pace[int(line.change) - 1] >= worthwhile
    faded = [line.change - line.fades_from for line in lines_of(rough) if line.fate == "stall"]
    assert 1.0 <= np.mean(faded) <= 3.0
    assert all(line.change == line.fades_from for line in lines_of(plain) if line.fate == "stall")


def test_whoever_gains_in_the_rough_world_slows_down_and_still_gains(rough):
    for line in (line for line in lines_of(rough) if line.fate == "gaining"):
        term = line.pace[line.term_start :]
        assert term[-1] <= term[0] and term[-1] >= WORTHWHILE_GAIN[line.strand.facts.scale]


def test_form_is_shared_by_both_feet_so_their_difference_wobbles_by_1_22_typical_errors():
    differences = []
    for world in classes("rough", 30, 5):
        place = {line.key: line for line in world.lines}
        days = {(fact.student, fact.side, fact.on): fact for fact in world.facts if fact.measure == "rises"}
        for (student, side, on), fact in days.items():
            other = days.get((student, "R", on))
            week = (on - world.day(0, 0)).days // 7
            # From the fourth class on, when getting used to the test is over.
            if side == "L" and other and week >= 6:
                left, right = (place[student, "rises", each] for each in ("L", "R"))
                off = other.value - fact.value - (right.level[week] - left.level[week])
                differences.append(off / left.wobble)
    assert np.std(differences) == pytest.approx(1.22, abs=0.05)


def test_a_growth_dip_goes_down_four_gains_and_comes_back_to_where_it_began():
    dips = [line for line in lines_of(classes("plain", 10, 3, shares=DIPPING)) if line.fate == "dips"]
    assert len(dips) > 100
    for line in dips:
        began, ends = int(line.change), int(line.ends)
        assert line.level[ends] - line.level[began] == pytest.approx(-DIP_WEEKS * line.strand.gain)
        assert line.level[ends + DIP_WEEKS // 2] == pytest.approx(line.level[began])
        assert line.pace[-1] == line.pace[0] > 0


def test_one_count_in_forty_is_typed_with_a_slip_and_nothing_else_is_changed(plain):
    typed = list(with_slips(plain, 3))
    changed = [
        (was, now) for world, (told, _wrong) in zip(plain, typed, strict=True)
        for was, now in zip(world.facts, told.facts, strict=True) if was != now
    ]
    counts = sum(fact.measure == "rises" for world in plain for fact in world.facts)
    assert {fact.measure for fact, _now in changed} == {"rises"}
    assert len(changed) / counts == pytest.approx(1 / 40, abs=0.005)


def test_grades_that_are_at_target_end_at_the_top(plain, rough):
    ends = [
        line.level[-1]
        for line in lines_of([*plain, *rough])
        if line.fate == "at_target" and line.strand.facts.scale == "grade"
    ]
    assert ends and ends == pytest.approx([2.0] * len(ends))


def test_the_same_seed_gives_the_same_class():
    one, two = (next(iter(classes("rough", 1, 8))) for _ in range(2))
    assert one.facts == two.facts
    assert one.facts != next(iter(classes("rough", 1, 9))).facts
