"""What the one entry to the judgement promises: verdicts, dates, targets, and nothing missing as NaN."""

import dataclasses
import math
import random
from datetime import date, timedelta

import pytest

from progress.judging.engine.class_arrays import class_arrays
from progress.judging.judgement import ResultFact, judge_class, judge_classes, judge_weekly
from tests.progress.facts_of import GAINS, MEASURES, SLIPS, STANDS, TUESDAY, facts, judged, one_line


def test_no_results_give_no_lines():
    judgement = judge_class([], measures=MEASURES, targets={}, as_of=TUESDAY)
    assert judgement.lines == {} and judgement.measure_again == () and judgement.class_stalls == ()


def test_steady_gains_are_called_gaining_at_a_plausible_pace():
    line = one_line(facts(GAINS))
    assert line.verdict == "gaining"
    assert line.rate_low80 < 0.75 < line.rate_high80 and line.rate_low80 < line.rate < line.rate_high80


def test_a_plateau_is_called_stalled_since_about_its_start():
    line = one_line(facts(STANDS))
    assert line.verdict == "stalled"
    assert abs((line.since_on - (TUESDAY + timedelta(weeks=4))).days) <= 21
    assert abs((line.since_from - (TUESDAY + timedelta(weeks=4))).days) <= 14
    assert line.since_on.weekday() == 0 and line.since_from <= line.since_on


def test_a_fall_is_called_slipping_with_a_negative_pace():
    line = one_line(facts(SLIPS))
    assert line.verdict == "slipping" and line.rate < 0


@pytest.mark.parametrize(
    "values", [[13, 12, 10, 15, 16, 11, 13, 13, 17, None, None, 10], [10, 11, 13, 11, 9, 12, 6, 11, 9, None, None, 17]]
)
def test_one_result_after_weeks_without_any_makes_no_gain(values):
    line = one_line(facts(values))
    assert line.p_gain > 0.65 and line.verdict == "not_clear"


def test_a_second_result_that_agrees_makes_it_one():
    line = one_line(facts([10, 11, 13, 11, 9, 12, 6, 11, 9, None, None, 17, 16]))
    assert line.verdict == "gaining" and line.since_on >= TUESDAY + timedelta(weeks=8)


def test_three_results_are_too_early_and_one_more_is_asked_for():
    line = one_line(facts(STANDS[:3]))
    assert (line.verdict, line.results, line.results_missing) == ("too_early", 3, 1)


def test_many_results_of_one_week_are_still_too_early():
    day = [ResultFact(n, "Dunya", "rises", "L", TUESDAY + timedelta(days=n), 15.0) for n in range(6)]
    line = one_line(day)
    assert (line.verdict, line.results_missing) == ("too_early", 1)


def test_standing_at_the_target_is_at_target_and_not_stalled():
    line = one_line(facts(STANDS), targets={("Dunya", "rises"): 15.0})
    assert (line.verdict, line.weeks_to_target[1]) == ("at_target", 0.0)


def test_a_target_out_of_reach_is_not_at_this_pace():
    line = one_line(facts(STANDS), targets={("Dunya", "rises"): 45.0})
    assert line.weeks_to_target[2] is None


def test_weeks_to_target_are_in_order_and_hold_the_plain_projection():
    low, middle, high = one_line(facts(GAINS), targets={("Dunya", "rises"): 26.0}).weeks_to_target
    assert low <= middle <= (high or math.inf)
    assert low < (26 - 20.5) / 0.75 < (high or math.inf)


def test_a_capped_hold_never_reads_as_a_stall():
    for seconds in range(5, 60, 5):
        line = one_line(facts([float(seconds)] * 12, measure="balance", capped=True))
        assert line.verdict == "at_target" and line.at_cap


def test_top_grades_all_term_are_at_the_top_and_not_stalled():
    line = one_line(facts([2] * 12, measure="landing"))
    assert (line.verdict, line.at_cap) == ("at_target", True)


def test_bottom_grades_all_term_are_not_called_gaining():
    assert one_line(facts([0] * 14, measure="landing")).verdict in ("stalled", "not_clear")


def test_a_hold_is_judged_in_per_cent_a_week():
    line = one_line(facts([8 * 1.07**week for week in range(14)], measure="balance"))
    assert line.verdict == "gaining" and 3.0 < line.rate < 8.0 and line.rate_low80 < 7.0 < line.rate_high80
    assert line.level == pytest.approx(8 * 1.07**13, rel=0.15)


def test_a_hold_of_nothing_is_taken():
    line = one_line(facts([0.0, 2.0, 1.5, 3.0, 2.5, 4.0], measure="balance"))
    assert line.results == 6 and line.level > 0.5


def test_a_typing_slip_waits_until_it_is_confirmed():
    slip = [*GAINS[:8], 170, *GAINS[9:]]
    line = one_line(facts(slip))
    assert line.held_back == (("Dunya", "rises", "L", 8),) and line.results == 13 and line.measure_again
    confirmed = [dataclasses.replace(fact, confirmed=True) for fact in facts(slip)]
    assert one_line(confirmed).held_back == ()


def test_a_value_above_its_cap_waits_from_the_first_result_on():
    line = one_line(facts([46.0, 20.0, 21.0], measure="balance", cap=45.0))
    assert (len(line.held_back), line.results) == (1, 2)


def test_a_line_with_only_a_held_back_value_says_so_without_numbers():
    line = one_line(facts([46.0], measure="balance", cap=45.0))
    assert (line.level, line.rate, line.results, len(line.held_back)) == (None, None, 0, 1)


def test_a_new_protocol_learns_the_level_again_and_keeps_the_story():
    before = facts(GAINS[:8], protocol=1)
    after = facts([8, 9, 9, 10], first_on=TUESDAY + timedelta(weeks=8), protocol=2)
    after = [dataclasses.replace(fact, key=("after", fact.key)) for fact in after]
    line = one_line(before + after)
    assert line.verdict in ("gaining", "not_clear") and line.level < 12 and line.has_new_protocol
    assert line.first_level == pytest.approx(8.5, abs=2.0)
    assert {knot.protocol for knot in line.knots} == {1, 2}
    as_one = one_line([dataclasses.replace(fact, protocol=1) for fact in before + after])
    assert as_one.verdict in ("slipping", "dropped")


def test_the_flag_keeps_its_first_day_while_the_verdict_stands():
    results = facts(STANDS)
    flags = [one_line(results, as_of=TUESDAY + timedelta(weeks=week)).flagged_on for week in range(8, 14)]
    days = {day for day in flags if day is not None}
    assert len(days) == 1 and flags[-1] is not None and flags[-1] <= TUESDAY + timedelta(weeks=13)


def test_one_foot_that_stalls_while_the_other_gains_is_one_sided():
    judgement = judged(facts(STANDS, side="L") + facts(GAINS, side="R"))
    assert judgement.lines["Dunya", "rises", "L"].one_sided
    both = judged(facts(STANDS, side="L") + facts(STANDS, side="R"))
    assert not both.lines["Dunya", "rises", "L"].one_sided


def test_knots_end_on_the_as_of_day_and_hold_the_band_around_the_level():
    line = one_line(facts(GAINS))
    assert line.knots[-1].on == TUESDAY + timedelta(weeks=13)
    assert all(knot.on.weekday() == 6 for knot in line.knots[:-1]) and len(line.knots) == 14
    for knot in line.knots:
        assert knot.band_low <= knot.level_low80 < knot.level < knot.level_high80 <= knot.band_high


def test_three_weeks_without_a_result_leave_the_line_stale_and_asked_for():
    others = [fact for name in ("Ida", "Mei", "Noa") for fact in facts(GAINS, student=name)]
    line = judged(facts(GAINS[:9]) + others).lines["Dunya", "rises", "L"]
    assert line.is_stale and line.measure_again and line.knots[-1].stale
    assert not line.knots[8].stale


def test_at_most_five_lines_are_asked_for_nearest_to_the_flag_first():
    rng = random.Random(3)
    results = [
        fact
        for number in range(14)
        for fact in facts([15 + rng.choice((-1, 0, 1, 2)) + week * 0.25 for week in range(9)], student=f"S{number}")
    ]
    judgement = judged(results)
    stands = [judgement.lines[key].p_no_gain for key in judgement.measure_again]
    assert len(stands) == 5 and stands == sorted(stands, reverse=True)
    assert all(judgement.lines[key].measure_again for key in judgement.measure_again)


def test_whoever_was_asked_for_is_gone_from_the_list_as_soon_as_two_results_settle_it():
    open_question = facts([10, 11, 13, 14, 16, 16, 17, 16, 15, 16])
    key, day = ("Dunya", "rises", "L"), open_question[-1].on + timedelta(days=3)
    asked = judged(open_question)
    assert asked.measure_again == (key,) and asked.lines[key].verdict == "not_clear"
    for value, verdict in ((20.0, "gaining"), (12.0, "stalled")):
        twice = [ResultFact((number, value), "Dunya", "rises", "L", day, value) for number in (1, 2)]
        settled = judged([*open_question, *twice])
        assert (settled.measure_again, settled.lines[key].verdict) == ((), verdict)


def _many() -> list[ResultFact]:
    rng = random.Random(8)
    results = []
    for number in range(8):
        for side in "LR":
            for measure, start in (("rises", 12), ("balance", 9), ("landing", 1)):
                values = [
                    None
                    if rng.random() < 0.2
                    else max(0, start + (week * 0.4 if measure != "landing" else 0))
                    + rng.choice((-2, -1, 0, 1, 2)) * (0.3 if measure == "landing" else 1)
                    for week in range(16)
                ]
                values = [round(v) if v is not None and measure != "balance" else v for v in values]
                values = [min(v, 2) if v is not None and measure == "landing" else v for v in values]
                results += facts(
                    values, student=f"S{number}", measure=measure, side=side, assessor="A" if number % 2 else "B"
                )
    return results


def test_any_order_of_rows_gives_the_very_same_answer():
    results, shuffled = _many(), _many()
    random.Random(1).shuffle(shuffled)
    assert judged(results) == judged(shuffled)


def test_a_line_begins_in_the_week_of_its_own_first_result():
    late = facts(GAINS, student="Late", first_on=TUESDAY + timedelta(weeks=3))
    last = TUESDAY + timedelta(weeks=6)
    arrays = class_arrays([*facts(GAINS), *late], measures=MEASURES, targets={}, as_of=last)
    assert arrays.columns["first_week"].tolist() == [0, 3]
    weekly = judge_weekly([*facts(GAINS), *late], measures=MEASURES, targets={}, as_of=last)
    assert [len(each.lines) for each in weekly] == [1, 1, 1, 2, 2, 2, 2]


def test_every_weeks_answer_is_the_one_given_with_that_weeks_results_only():
    results = _many()
    last = max(fact.on for fact in results)
    weekly = judge_weekly(results, measures=MEASURES, targets={}, as_of=last)
    assert weekly[-1] == judged(results)
    for week in (4, 9, 12):
        assert judge_class(results, measures=MEASURES, targets={}, as_of=weekly[week].as_of) == weekly[week]


def test_a_school_in_one_pass_says_what_each_class_says_alone():
    results = _many()
    later = [dataclasses.replace(fact, on=fact.on + timedelta(days=65)) for fact in _many()[:400]]
    days = {"tue": max(f.on for f in results), "later": max(f.on for f in later)}
    school = judge_classes({"tue": results, "later": later}, measures=MEASURES, targets={}, as_of=days)
    assert school["tue"] == judged(results) and school["later"] == judged(later)


def _numbers(value: object):
    if isinstance(value, float):
        yield value
    elif dataclasses.is_dataclass(value):
        for name in value.__dataclass_fields__:
            yield from _numbers(getattr(value, name))
    elif isinstance(value, tuple | list):
        for each in value:
            yield from _numbers(each)


def test_nothing_in_an_answer_is_nan_or_infinite():
    for line in judged(_many(), targets={("S1", "rises"): 20.0}).lines.values():
        assert all(math.isfinite(number) for number in _numbers(line))


def test_an_unknown_measure_is_the_callers_mistake():
    with pytest.raises(KeyError):
        judged([ResultFact(1, "Dunya", "turnout", "L", date(2031, 1, 7), 3.0)])
