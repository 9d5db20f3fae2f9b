"""A cap belongs to its protocol: a student once stopped at sixteen is not at target under the next protocol."""
import datetime as dt

from progress.judging.judgement import MeasureFacts, ResultFact, judge_class, judge_weekly

RISES = MeasureFacts("rises", "count", 2.4, 3.0, 0.65)
MONDAY = dt.date(2026, 1, 5)


def facts(capped_weeks: int, later: list[float]) -> list[ResultFact]:
    """Weekly results: first at the cap of protocol 1, then `later` under protocol 2."""
    early = [
        ResultFact(week, "ama", "rises", "L", MONDAY + dt.timedelta(weeks=week), 16, capped=True, protocol=1)
        for week in range(capped_weeks)
    ]
    return early + [
        ResultFact(week, "ama", "rises", "L", MONDAY + dt.timedelta(weeks=week), value, protocol=2)
        for week, value in enumerate(later, start=capped_weeks)
    ]


def judged(results, weeks):
    as_of = MONDAY + dt.timedelta(weeks=weeks)
    return judge_class(results, measures={"rises": RISES}, targets={("ama", "rises"): 25.0}, as_of=as_of)


def test_under_the_cap_the_student_is_at_target():
    line = judged(facts(6, []), 5).lines["ama", "rises", "L"]
    assert line.verdict == "at_target"
    assert line.at_cap


def test_a_cap_of_an_older_protocol_is_no_target():
    line = judged(facts(6, [17, 17, 18, 18, 19, 19]), 11).lines["ama", "rises", "L"]
    assert line.level < 21
    assert line.verdict != "at_target"


def test_what_was_said_under_the_old_protocol_stays_said():
    results = facts(6, [17, 17, 18, 18, 19, 19])
    as_of = MONDAY + dt.timedelta(weeks=11)
    weekly = judge_weekly(results, measures={"rises": RISES}, targets={("ama", "rises"): 25.0}, as_of=as_of)
    assert weekly[5].lines["ama", "rises", "L"].verdict == "at_target"
    assert weekly[11].lines["ama", "rises", "L"].verdict != "at_target"
