"""A line is read on from the end of a term as if its older results were still there."""
from dataclasses import replace
from datetime import date, timedelta

import pytest

from progress.judging.judgement import carry_over, judge_class
from tests.progress.facts_of import MEASURES, TUESDAY, facts

KEY = "Dunya", "rises", "L"
TARGETS = {("Dunya", "rises"): 25.0, ("Dunya", "balance"): 40.0}
VALUES = [8, 9, 9, 11, 10, 12, 12, 13, 13, 14, 13, 14, 14, 15, 14, 14, 15, 13, 14, 15, 14, 14, 15, 14, 14, 15, 14]


def sunday(on: date) -> date:
    return on + timedelta(days=6 - on.weekday())


def whole_and_in_two(results, last_old: date):
    """The line judged from everything, and from what was carried over the Sunday of `last_old`."""
    end = max(fact.on for fact in results)
    old, new = [f for f in results if f.on <= last_old], [f for f in results if f.on > last_old]
    carried = carry_over(old, measures=MEASURES, as_of=sunday(last_old))
    given = {"measures": MEASURES, "targets": TARGETS, "as_of": end}
    [whole] = judge_class(results, **given).lines.values()
    [parted] = judge_class(new, carried=carried, **given).lines.values()
    return whole, parted


def test_without_weeks_between_nothing_is_lost():
    whole, parted = whole_and_in_two(facts(VALUES), TUESDAY + timedelta(weeks=12))
    assert parted.knots == whole.knots[13:]
    # How far back it is level is looked up in the results, and those of the term before last are not read.
    assert parted.since_on >= whole.since_on
    same = {"knots": (), "since_on": None, "since_from": None}
    assert replace(parted, **same) == replace(whole, **same)
    assert parted.results == 27 and parted.first_on == TUESDAY


@pytest.mark.parametrize("weeks", [1, 4, 9])
def test_over_a_break_the_line_goes_on_where_it_was(weeks):
    later = facts(VALUES[14:], first_on=TUESDAY + timedelta(weeks=14 + weeks))
    later = [replace(fact, key=("later", at)) for at, fact in enumerate(later)]
    whole, parted = whole_and_in_two(facts(VALUES[:14]) + later, TUESDAY + timedelta(weeks=13))
    assert (parted.verdict, parted.results, parted.first_on) == (whole.verdict, whole.results, whole.first_on)
    assert parted.level == pytest.approx(whole.level, abs=0.05)
    assert parted.p_no_gain == pytest.approx(whole.p_no_gain, abs=0.02)
    assert parted.first_level == whole.first_level


def test_another_protocol_after_the_boundary_begins_the_level_anew():
    new = facts([20, 21, 20, 22, 21], first_on=TUESDAY + timedelta(weeks=12), protocol=2)
    whole, parted = whole_and_in_two(
        facts(VALUES[:12]) + [replace(fact, key=("new", at)) for at, fact in enumerate(new)],
        TUESDAY + timedelta(weeks=11),
    )
    assert parted.level == pytest.approx(whole.level, abs=1e-6)
    assert (parted.results_in_protocol, parted.results) == (5, 17)


def test_a_cap_that_was_reached_before_the_boundary_still_says_what_can_be_reached():
    capped = [replace(fact, capped=True, cap=30.0) for fact in facts([30.0] * 12, measure="balance")]
    after = [replace(fact, key=("after", at), cap=30.0) for at, fact in enumerate(
        facts([29.0, 29.5, 29.0, 29.4, 29.1], measure="balance", first_on=TUESDAY + timedelta(weeks=12)))]
    whole, parted = whole_and_in_two(capped + after, TUESDAY + timedelta(weeks=11))
    assert parted.verdict == whole.verdict == "at_target"


def test_a_held_back_result_still_waits():
    values = [8, 9, 9, 10, 10, 71, 11, 11, 12, 12]
    whole, parted = whole_and_in_two(facts(values), TUESDAY + timedelta(weeks=7))
    assert parted.held_back == whole.held_back != ()
    assert parted.results == whole.results


def test_a_line_that_was_not_measured_is_carried_on_as_it_was():
    carried = carry_over(facts(VALUES), measures=MEASURES, as_of=sunday(TUESDAY + timedelta(weeks=26)))
    later = facts(VALUES, student="Greta", first_on=TUESDAY + timedelta(weeks=30))
    again = carry_over(later, measures=MEASURES, as_of=sunday(TUESDAY + timedelta(weeks=56)), carried=carried)
    assert again[KEY] == carried[KEY] and len(again) == 2


def test_a_state_of_another_filter_is_refused():
    carried = carry_over(facts(VALUES), measures=MEASURES, as_of=sunday(TUESDAY + timedelta(weeks=26)))[KEY]
    with pytest.raises(ValueError, match="another filter"):
        judge_class(
            facts(VALUES, first_on=TUESDAY + timedelta(weeks=30)), measures=MEASURES, targets=TARGETS,
            as_of=TUESDAY + timedelta(weeks=60), carried={KEY: replace(carried, state=(*carried.state, 0.0))},
        )


