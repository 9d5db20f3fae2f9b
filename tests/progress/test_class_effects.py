"""What a class shares: weeks that stand still, bad weeks, assessors, stalls of most; and the gap of two feet."""

import numpy as np
import pytest

from progress.judging.engine.class_effects import SharedRows, shared_offsets
from progress.judging.engine.class_stall import class_stalls, leans, log_bayes_factor, prior_no_gain
from progress.judging.engine.class_weeks import class_time, class_weeks
from progress.judging.engine.side_gap import side_gap
from progress.judging.engine.stories import RULES


def measured(weeks: list[int], students: int = 10) -> tuple[np.ndarray, np.ndarray]:
    week = np.repeat(weeks, students)
    return np.tile(np.arange(students), len(weeks)), week


def test_a_break_stands_still_from_its_second_week_and_returns_after_it():
    student, week = measured([0, 1, 2, 3, 4, 8, 9])
    found = class_weeks(student, week, 10)
    assert found.stands_still.tolist() == [False] * 6 + [True, True, False, False]
    assert np.flatnonzero(found.returns).tolist() == [8]
    assert found.ends.tolist() == [1, 2, 3, 4, 5, 6, 6, 6, 7, 8]


def test_a_week_with_a_fifth_of_the_class_does_not_stand_still():
    student, week = measured([0, 1, 2, 3])
    student, week = np.r_[student, [0, 1, 0, 1]], np.r_[week, [4, 4, 5, 5]]
    assert not class_weeks(student, week, 6).stands_still.any()


def test_a_class_screened_every_fifth_week_never_stands_still():
    student, week = measured([0, 5, 10, 15])
    assert not class_weeks(student, week, 16).stands_still.any()


def test_class_time_runs_to_the_end_of_each_day():
    student, week = measured([0, 1, 2, 3])
    calendar = class_weeks(student, week, 4)
    assert class_time(calendar, np.array([0, 1, 3]), np.array([6, 0, 1])) == pytest.approx([1, 1 + 1 / 7, 3 + 2 / 7])


def shared(bad_week: float, eye: float, seed: int = 4) -> tuple[SharedRows, np.ndarray]:
    """Twelve students with own levels and trends, one bad week (7), a second assessor every third week."""
    rng = np.random.default_rng(seed)
    line, week = (grid.ravel() for grid in np.meshgrid(np.arange(12), np.arange(12), indexing="ij"))
    order = np.argsort(week, kind="stable")
    line, week = line[order], week[order]
    assessor = (week % 3 == 2).astype(int)
    own = rng.normal(14, 4, 12)[line] + rng.normal(0.6, 0.2, 12)[line] * week
    value = own + rng.normal(0, 2.4, line.size) + bad_week * (week == 7) + eye * assessor
    return SharedRows(line, line, week, week + 1.0, assessor, value), week


def test_a_bad_week_is_taken_back_in_part_and_other_weeks_are_left_alone():
    terms = [shared(bad_week=-3.0, eye=0.0, seed=seed) for seed in range(60)]
    offset = np.mean([shared_offsets(rows, error=2.4, gain=0.65) for rows, _ in terms], axis=0)
    week = terms[0][1]
    assert -3.0 < offset[week == 7].mean() < -0.6
    # Week 8 still pays a little for the bad week before it.
    assert abs(offset[(week != 7) & (week != 8)]).max() < 0.35


def test_an_assessor_who_counts_more_is_found():
    rows, week = shared(bad_week=0.0, eye=2.0)
    offset = shared_offsets(rows, error=2.4, gain=0.65)
    late = week > 8
    assert offset[late & (rows.assessor == 1)].mean() - offset[late & (rows.assessor == 0)].mean() > 1.0


def test_a_class_that_stops_gaining_keeps_its_plateau():
    rng = np.random.default_rng(2)
    line, week = np.tile(np.arange(12), 14), np.repeat(np.arange(14), 12)
    value = 14 + 0.65 * np.minimum(week, 6) + rng.normal(0, 2.4, week.size)
    rows = SharedRows(line, line, week, week + 1.0, 0 * week, value)
    offset = shared_offsets(rows, error=2.4, gain=0.65)
    corrected = value - offset
    assert np.polyfit(week[week >= 7], corrected[week >= 7], 1)[0] < 0.25


def test_five_students_are_too_few_for_offsets():
    rows, _ = shared(bad_week=-3.0, eye=0.0)
    few = rows.line < 5
    part = SharedRows(**{name: getattr(rows, name)[few] for name in vars(rows)})
    assert not shared_offsets(part, error=2.4, gain=0.65).any()


def test_offsets_of_a_week_do_not_know_later_weeks():
    rows, week = shared(bad_week=-3.0, eye=1.0)
    known = week <= 8
    early = SharedRows(**{name: getattr(rows, name)[known] for name in vars(rows)})
    assert (
        shared_offsets(early, error=2.4, gain=0.65).tolist()
        == shared_offsets(rows, error=2.4, gain=0.65)[known].tolist()
    )


def test_the_chance_without_results_is_that_of_simulated_stories():
    rng = np.random.default_rng(11)
    hazards = RULES.hazards.copy()
    # Who loses or wins suddenly stands still afterwards.
    hazards[0, 1] += RULES.loss_hazard + RULES.rise_hazard
    step = hazards + np.diag(1 - hazards.sum(axis=1))
    story = rng.choice(3, size=20_000, p=RULES.first_weights)
    path = [story]
    for _ in range(6):
        story = (rng.random(story.size)[:, None] > np.cumsum(step[story], axis=1)).sum(axis=1)
        path.append(story)
    stands = np.array(path) > 0
    still = np.zeros(7, dtype=bool)
    found = prior_no_gain(still, still, 0, 7)[6]
    counted = [stands[6 - back :].all(axis=0).mean() for back in range(7)]
    assert found == pytest.approx(counted, abs=0.012)


def test_most_of_a_class_without_gain_is_a_class_stall_and_two_students_are_not():
    def found(standing: int):
        factor = np.where(np.arange(12) < standing, 2.0, -2.0)[:, None] * np.ones((12, 5)) * 2
        stands = np.where(np.arange(12) < standing, 0.8, 0.2)
        return class_stalls({"rises": factor}, {"rises": stands}, {"rises": np.arange(12)})

    assert found(10)[0].measure == "rises" and found(10)[0].members == tuple(range(10))
    assert found(2) == ()


def test_one_child_however_clear_cannot_decide_for_the_class():
    factor = np.where(np.arange(12) < 6, 0.5, -0.2)[:, None] * np.ones((12, 5))
    factor[0] = 200.0
    stands = np.where(np.arange(12) < 7, 0.8, 0.2)
    assert class_stalls({"rises": np.r_[factor[:1], 0 * factor[1:]]}, {"rises": stands}, {"rises": np.arange(12)})
    calm = class_stalls({"rises": np.r_[factor[:1], 0 * factor[1:] - 1.0]}, {"rises": stands}, {"rises": np.arange(12)})
    assert calm == ()


def test_several_measures_together_need_less_of_each():
    factor, stands, who = np.full((12, 5), 1.4), np.where(np.arange(12) < 6, 0.7, 0.3), np.arange(12)
    together = class_stalls({"a": factor, "b": factor}, {"a": stands, "b": stands}, {"a": who, "b": who})
    assert [stall.measure for stall in together] == [None]


@pytest.mark.parametrize(("before", "standing", "said"), [(0.5, 0.7, True), (0.5, 0.3, False), (-1.0, 0.7, False)])
def test_a_stall_of_the_class_is_said_only_if_the_week_before_leaned_that_way(before, standing, said):
    factor, stands, who = np.full((12, 5), 1.5), np.where(np.arange(12) < 10, 0.7, 0.3), np.arange(12)
    (stall,) = class_stalls({"a": factor}, {"a": stands}, {"a": who})
    earlier = np.where(np.arange(12) < 3, standing, 0.3)
    assert leans(stall, {"a": np.full((12, 5), before)}, {"a": earlier}) is said
    assert leans(stall, {}, {}) is False


def test_a_factor_without_news_is_zero():
    assert log_bayes_factor(np.array([0.3]), np.array([0.3])).tolist() == [0.0]


def test_equal_feet_are_rarely_called_apart():
    rng = np.random.default_rng(9)
    apart = [
        side_gap(rng.normal(0, 1.22 * 2.4, 12), range(12), now=11, error=2.4, limit=2.4).is_apart for _ in range(600)
    ]
    assert np.mean(apart) < 0.02


def test_a_real_gap_is_found_after_a_term_and_never_from_two_days():
    rng = np.random.default_rng(10)
    found = [side_gap(rng.normal(6.0, 2.9, 12), range(12), now=11, error=2.4, limit=2.4) for _ in range(200)]
    assert np.mean([gap.is_apart for gap in found]) > 0.9
    assert not side_gap([9.0, 9.0], [0, 1], now=1, error=2.4, limit=2.4).is_apart


def test_old_days_fade_and_one_wild_day_cannot_make_a_gap():
    old = side_gap([5.0] * 6, range(6), now=5, error=2.4, limit=2.4)
    later = side_gap([5.0] * 6, range(6), now=29, error=2.4, limit=2.4)
    assert 0 < later.mean < old.mean and later.sd > old.sd
    assert not side_gap([0.0, 0.0, 60.0, 0.0], range(4), now=3, error=2.4, limit=2.4).is_apart


def test_no_day_with_both_feet_gives_no_gap():
    assert side_gap([], [], now=3, error=2.4, limit=2.4) is None
