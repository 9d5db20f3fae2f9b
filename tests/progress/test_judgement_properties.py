"""Properties that hold for any term: hypothesis looks for the one that breaks them."""

import dataclasses
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from progress.judge_command.judge_file import read_results_file
from progress.judge_command.judge_rows import judged_rows
from progress.judging.judgement import judge_class
from tests.progress.facts_of import MEASURES, TUESDAY, facts, judged, one_line
from tests.progress.lines_of import one_story, weekly

terms = st.lists(st.one_of(st.none(), st.integers(0, 40)), min_size=5, max_size=16).filter(
    lambda values: sum(value is not None for value in values) >= 2
)
wobbles = st.lists(st.floats(-3.0, 3.0), min_size=5, max_size=14)
few = settings(max_examples=25, deadline=None)


@few
@given(wobbles, st.floats(-8.0, 20.0))
def test_adding_a_constant_to_a_count_moves_its_level_and_nothing_else(wobble, constant):
    values = [14.0 + 0.5 * week + off for week, off in enumerate(wobble)]
    here, _ = weekly([values], prior=(14.0, 6.0), gain=0.65, error=2.4)
    there, _ = weekly([[v + constant for v in values]], prior=(14.0 + constant, 6.0), gain=0.65, error=2.4)
    one, two = here[-1].stories, there[-1].stories
    assert two.weight == pytest.approx(one.weight, abs=1e-7)
    assert two.pace == pytest.approx(one.pace, abs=1e-7)
    assert two.level == pytest.approx(one.level + constant, abs=1e-6)


@few
@given(wobbles)
def test_doubling_the_unit_of_the_value_doubles_the_pace(wobble):
    values = [14.0 + 0.5 * week + off for week, off in enumerate(wobble)]
    here, _ = weekly([values], prior=(14.0, 6.0), gain=0.65, error=2.4)
    there, _ = weekly([[2 * v for v in values]], prior=(28.0, 12.0), gain=1.3, error=4.8)
    assert there[-1].stories.pace == pytest.approx(2 * here[-1].stories.pace, rel=1e-7)
    assert there[-1].stories.weight == pytest.approx(here[-1].stories.weight, abs=1e-9)


@few
@given(wobbles)
def test_doubling_the_unit_of_time_halves_the_pace(wobble):
    """With one story, for which weeks are only a unit: pace per fortnight is twice the pace per week."""
    values = [14.0 + 0.5 * week + off for week, off in enumerate(wobble)]
    rules = one_story(pace_mean=1.0, pace_sd=0.5)
    by_week, _ = weekly([values], prior=(14.0, 6.0), gain=0.6, error=2.4, rules=rules)
    spaced = [value for each in values for value in (each, np.nan)][:-1]
    by_half, _ = weekly([spaced], prior=(14.0, 6.0), gain=0.3, error=2.4, rules=rules)
    assert by_half[-1].stories.pace == pytest.approx(0.5 * by_week[-1].stories.pace, rel=1e-9)
    assert by_half[-1].stories.level == pytest.approx(by_week[-1].stories.level, rel=1e-9)


@few
@given(terms, st.randoms())
def test_the_order_of_rows_changes_nothing(values, random):
    results = facts(values) + facts(values[::-1], side="R")
    shuffled = results[:]
    random.shuffle(shuffled)
    assert judged(results) == judged(shuffled)


@few
@given(terms, st.integers(0, 3))
def test_a_row_without_a_value_is_no_result(values, away):
    """As a spreadsheet has it: the child was not there, the cell is empty, now and at the end of the term."""
    days = [(TUESDAY + timedelta(weeks=week), value) for week, value in enumerate([*values, *[None] * away])]
    there = [(day, value) for day, value in days if value is not None]

    def said(rows):
        lines = [f"Ida,rises,left,{day},{'' if value is None else value}" for day, value in rows]
        file = read_results_file("\n".join(["student,measure,side,date,value", *lines]).encode())
        assert len(file.refusals) == sum(value is None for _day, value in rows)
        return [dict(row) for row in judged_rows(file, as_of=None, weekly=False)]

    assert said(days) == said(there) != []


@few
@given(st.lists(st.floats(1.0, 30.0), min_size=1, max_size=3), st.integers(5, 12), st.floats(20.0, 60.0))
def test_a_run_at_the_cap_never_reads_as_a_stall(before, capped, cap):
    start = facts([min(each, cap - 0.1) for each in before], measure="balance")
    end = facts([cap] * capped, measure="balance", first_on=start[-1].on + timedelta(days=7), capped=True)
    end = [dataclasses.replace(fact, key=("cap", fact.key)) for fact in end]
    line = one_line(start + end)
    assert line.verdict not in ("stalled", "slipping")


@few
@given(terms, st.integers(0, 15))
def test_later_results_never_change_what_was_known_before(values, week):
    results = facts(values)
    day = min(fact.on for fact in results) + timedelta(weeks=week)
    early = [fact for fact in results if fact.on <= day]
    assert judge_class(results, measures=MEASURES, targets={}, as_of=day) == judge_class(
        early, measures=MEASURES, targets={}, as_of=day
    )


@few
@given(terms)
def test_chances_sum_to_one_and_intervals_are_in_order(values):
    line = one_line(facts(values))
    assert line.p_gain + line.p_flat + line.p_slip == pytest.approx(1.0)
    if line.verdict == "dropped":
        assert line.rate is None and line.drop.after < line.drop.before
    else:
        assert line.rate_low80 < line.rate < line.rate_high80
    assert line.level_low80 <= line.level <= line.level_high80
