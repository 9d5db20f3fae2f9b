"""Breaks between terms, other assessors, whole classes: what they do to the judgement of a class."""

from datetime import timedelta

import numpy as np
import pytest

from progress.judging.judgement import ResultFact, judge_weekly
from tests.progress.facts_of import GAINS, MEASURES, STANDS, TUESDAY, facts, judged

NAMES = [f"S{number}" for number in range(12)]
PLATEAU = [8.0, 10, 12, 14, 16, 16, 16, 16, 16, 16, 16, 16, 16, 16]


def class_term(values: list[float], *, first_on=TUESDAY, seed: int = 1, wobble: float = 1.5) -> list[ResultFact]:
    rng = np.random.default_rng(seed)
    return [
        ResultFact((fact.key, first_on), *[fact.student, fact.measure, fact.side, fact.on, fact.value])
        for name in NAMES
        for side in "LR"
        for fact in facts(
            [float(np.rint(value + wobble * rng.normal())) for value in values],
            student=name,
            side=side,
            first_on=first_on,
        )
    ]


def weeks_of(results: list[ResultFact]):
    return judge_weekly(results, measures=MEASURES, targets={}, as_of=max(fact.on for fact in results))


def test_after_a_break_a_stall_is_an_open_question_again_and_the_level_less_sure():
    back_on = TUESDAY + timedelta(weeks=19)
    weeks = weeks_of(class_term(PLATEAU) + class_term([16.0], first_on=back_on, seed=2))
    before, after = weeks[13].lines["S3", "rises", "L"], weeks[-1].lines["S3", "rises", "L"]
    assert before.p_flat > 0.5 and after.p_gain > before.p_gain + 0.3

    def width(line) -> float:
        return line.level_high80 - line.level_low80

    # 0.75 SEM more doubt, less what one more result takes away.
    assert width(after) > 1.25 * width(before)


def test_a_students_own_pace_is_expected_in_the_next_term():
    def third_term(pace: float) -> float:
        first = [10 + pace * week for week in range(12)]
        second = [10 + pace * (12 + week) for week in range(12)]
        terms = class_term(first) + class_term(second, first_on=TUESDAY + timedelta(weeks=17), seed=2)
        back = class_term([10 + pace * 24], first_on=TUESDAY + timedelta(weeks=34), seed=3)
        return np.mean([line.pace_if_gaining for line in judged(terms + back).lines.values()])

    # Without finished terms it is 0.92 of the usual 0.65, which is 0.60. Gains are expected to level off, so a fast
    # pace is carried over less than a slow one.
    assert third_term(0.35) < 0.52 and third_term(0.95) > 0.62


def test_a_result_by_another_assessor_weighs_less():
    usual = facts(GAINS[:8], assessor="A")
    last_on = usual[-1].on + timedelta(days=7)

    def level(assessor: str) -> float:
        surprise = ResultFact("last", "Dunya", "rises", "L", last_on, 21.0, assessor=assessor)
        return judged([*usual, surprise]).lines["Dunya", "rises", "L"].level

    assert level("A") > level("B") + 0.2


def test_a_class_that_stops_together_is_asked_about_the_programme():
    judgement = judged(class_term(PLATEAU))
    (stall,) = judgement.class_stalls
    assert stall.measure == "rises" and len(stall.members) >= 8 and stall.share >= 0.5
    assert abs((stall.since_on - (TUESDAY + timedelta(weeks=4))).days) <= 28
    told = [line for line in judgement.lines.values() if line.with_class]
    assert len(told) >= 12 and all(line.p_no_gain >= 0.60 for line in told)


def test_a_class_that_gains_is_not():
    judgement = judged(class_term([8 + 0.7 * week for week in range(14)]))
    assert judgement.class_stalls == () and not any(line.with_class for line in judgement.lines.values())


def test_several_measures_that_stop_together_are_one_question_for_all():
    rises = class_term(PLATEAU)
    holds = [
        ResultFact(("hold", fact.key), fact.student, "balance", fact.side, fact.on, float(np.exp(fact.value / 8)))
        for fact in class_term(PLATEAU, seed=5)
    ]
    judgement = judged(rises + holds)
    assert [stall.measure for stall in judgement.class_stalls] == [None]
    assert {line.measure for line in judgement.lines.values() if line.with_class} == {"rises", "balance"}


def test_newcomers_without_a_verdict_say_nothing_about_the_class():
    settled = class_term(PLATEAU)
    newcomers = [
        ResultFact(("new", name, week), name, "rises", "L", TUESDAY + timedelta(weeks=week), 14.0)
        for name in ("N1", "N2", "N3")
        for week in (12, 13)
    ]
    (stall,) = judged(settled + newcomers).class_stalls
    assert not {"N1", "N2", "N3"} & set(stall.members)
    alone = judged(settled).class_stalls[0]
    assert stall.score == pytest.approx(alone.score, rel=0.05) and stall.share == alone.share


def test_one_student_measured_long_ago_is_asked_for():
    others = [fact for name in NAMES[:4] for fact in facts(GAINS, student=name)]
    away = facts(STANDS[:2], student="Noa")
    judgement = judged(others + away)
    line = judgement.lines["Noa", "rises", "L"]
    assert line.verdict == "too_early" and ("Noa", "rises", "L") in judgement.measure_again


def test_the_band_of_single_results_is_wider_than_the_doubt_about_the_level():
    for knot in judged(facts(GAINS)).lines["Dunya", "rises", "L"].knots:
        # 1.28 times a typical error of about 2.2 at these levels, and the doubt about the level on top.
        assert knot.band_high - knot.level > 2.5 and knot.band_high > knot.level_high80 + 0.5
