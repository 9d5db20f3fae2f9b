"""Series of which any teacher says the same at once: the judge must say it too, and with numbers that fit the word.

The readings are common practice, no source; the series of `faces.csv` are made up.
"""

import csv
import datetime as dt
from pathlib import Path

import pytest

from progress.judging.judgement import MeasureFacts, ResultFact, judge_class, judge_weekly
from progress.words.verdict import class_question, reason

MONDAY = dt.date(2031, 9, 1)
MEASURES = {
    "rises": MeasureFacts("rises", "count", 2.4, 3.0, 0.65),
    "passe balance": MeasureFacts("passe balance", "hold", 0.32, 0.40, 0.06),
    "control": MeasureFacts("control", "grade", 0.5, 0.6, 0.11, 0.0, 2.0),
}
with Path(__file__).with_name("faces.csv").open(encoding="utf-8", newline="") as file:
    FACES = {row["name"]: row for row in csv.DictReader(file)}


def facts(values: str, *, measure: str = "rises", every: int = 7, student: str = "Ida", side: str = "L", **more):
    """One result for each word: a number, "12+" for at least 12, "-" for none, "|" begins another protocol."""
    results, day, protocol = [], 0, 1
    for word in values.split():
        if word == "|":
            protocol += 1
            continue
        if word != "-":
            on = MONDAY + dt.timedelta(days=day)
            results.append(
                ResultFact(
                    (student, measure, side, day), student, measure, side, on, float(word.rstrip("+")),
                    capped=word.endswith("+"), protocol=protocol, **more,
                )  # fmt: skip
            )
        day += every
    return results


def judged(results, target: float | None = None):
    targets = {} if target is None else {(each.student, each.measure): target for each in results}
    as_of = max(each.on for each in results)
    return judge_class(results, measures=MEASURES, targets=targets, as_of=as_of)


def line(told):
    (only,) = told.lines.values()
    return only


def line_of(name: str):
    row = FACES[name]
    results = facts(row["values"], measure=row["measure"], every=int(row["every_days"]))
    (line,) = judged(results, float(row["target"])).lines.values()
    return line


@pytest.mark.parametrize("name", FACES)
def test_a_series_reads_as_any_teacher_reads_it(name):
    assert line_of(name).verdict.replace("_", " ") in FACES[name]["reading"].split(" or "), reason(line_of(name))


@pytest.mark.parametrize(("name", "low", "high"), [
    ("melts away", -1.6, -0.8), ("steep and true", 2.0, 3.4), ("a beginner takes off", 1.4, 2.4),
    ("one each week for nine weeks", 0.7, 1.2), ("steady gain", 0.4, 0.8), ("loses over the term", -1.2, -0.6),
    ("slow and true", 0.15, 0.6), ("three months of a fast beginner", 1.5, 2.2), ("slow slip", -0.4, -0.15),
    ("every second week melts", -0.9, -0.4), ("small steps down of a hold", -6.0, -3.0), ("big scale gains", 1.0, 2.0),
    ("one a fortnight", 0.25, 0.6), ("usual gain with wobble", 0.4, 0.8),
])
def test_the_pace_is_the_one_that_everyone_sees(name, low, high):
    line = line_of(name)
    assert low <= line.rate <= high


@pytest.mark.parametrize("name", FACES)
def test_the_range_is_the_range_of_what_the_word_says(name):
    line = line_of(name)
    if line.verdict == "gaining":
        assert 0.0 <= line.rate_low80 < line.rate < line.rate_high80
    elif line.verdict == "slipping":
        assert line.rate_low80 < line.rate < line.rate_high80 <= 0.0
    elif line.verdict == "stalled":
        worth = 100.0 if line.scale == "hold" else 1.0
        gain = MEASURES[line.measure].typical_gain * worth
        assert -0.5 * gain <= line.rate_low80 < line.rate_high80 <= 0.5 * gain
    elif line.verdict == "dropped":
        assert (line.rate, line.rate_low80, line.rate_high80) == (None, None, None)


@pytest.mark.parametrize(("name", "week"), [
    ("gain then seven level weeks", (5, 7)), ("twelve times fifteen", (1, 2)), ("noisy and level", (1, 2)),
    ("stops in the middle", (3, 8)), ("loses over the term", (1, 1)), ("slow slip", (1, 1)),
    ("after the holiday level a whole term", (13, 17)), ("gain slows to level", (5, 8)),
])
def test_the_sentence_names_the_week_since_when(name, week):
    since = (line_of(name).since_on - MONDAY).days // 7 + 1
    assert week[0] <= since <= week[1]


@pytest.mark.parametrize("values", ["13 16 14 16 15 14 14 5 7 7 7 6 4", "16 13 12 15 13 12 16 8 4 7 6 4 8"])
def test_a_loss_reads_the_same_in_every_week_that_says_it(values):
    results = facts(values)
    weeks = judge_weekly(results, measures=MEASURES, targets={}, as_of=results[-1].on)
    said = [line(each).drop for each in weeks if line(each).drop]
    assert len(said) == 4 and len(set(said)) == 1


@pytest.mark.parametrize(("name", "usual", "low", "before", "after"), [
    ("drops at once", 5, 6, 20, 8), ("one third lost at once", 5, 6, 25, 14), ("falls to nothing", 5, 6, 15, 0),
])
def test_a_loss_says_between_which_days_and_how_much(name, usual, low, before, after):
    drop = line_of(name).drop
    assert (drop.usual_on, drop.low_on) == (MONDAY + dt.timedelta(weeks=usual), MONDAY + dt.timedelta(weeks=low))
    assert drop.before == pytest.approx(before, abs=1.0) and drop.after == pytest.approx(after, abs=1.0)
    assert "Ask what happened, and look at the foot." in reason(line_of(name))


def test_a_loss_is_said_for_four_weeks_and_then_the_new_level_is_judged():
    values = "18 19 18 20 19 20 8 9 8 7 8 8 9 8 8 8 8"
    words = [judged(facts(" ".join(values.split()[:count])), 20.0) for count in range(7, 18)]
    said = [next(iter(each.lines.values())).verdict for each in words]
    assert said[0] == "not_clear" and said[1:5] == ["dropped"] * 4 and said[-1] == "stalled"


@pytest.mark.parametrize(("name", "asks"), [
    ("one bad day at the end", "low"), ("first of two low results", "low"), ("jump at once", "high"),
    ("loses all at the end once", "low"), ("alternating and level", ""),
    ("steady gain", ""), ("noisy and level", ""),
])
def test_a_sudden_result_is_asked_about(name, asks):
    line = line_of(name)
    assert line.asks == asks
    assert (asks == "low") == ("ask whether it hurts" in reason(line))


def test_one_low_result_is_asked_for_again_before_all_others():
    others = [each for number in range(6) for each in facts("12 13 12 13 12 14", student=f"s{number}")]
    assert judged(others + facts("17 18 17 18 19 7"), 25.0).measure_again[0] == ("Ida", "rises", "L")


def test_a_foot_that_drops_alone_is_said_to_be_alone():
    lines = judged(facts("18 19 18 20 19 20 8 9") + facts("17 18 19 19 20 20 21 21", side="R"), 30.0).lines
    assert lines["Ida", "rises", "L"].verdict == "dropped" and lines["Ida", "rises", "L"].one_sided
    assert lines["Ida", "rises", "R"].verdict == "gaining"
    assert "Left foot only." in reason(lines["Ida", "rises", "L"])


def test_one_foot_level_beside_one_that_gains():
    left, right = facts("12 12 13 12 12 12 13 12 12 12"), facts("10 11 12 13 13 14 15 16 17 18", side="R")
    lines = judged(left + right, 30.0).lines
    assert [line.verdict for line in lines.values()] == ["stalled", "gaining"]
    assert lines["Ida", "rises", "L"].one_sided


@pytest.mark.parametrize(("values", "every", "low", "high"), [
    ("12 15", 42, (-9, 0), (5, 13)), ("12 12 13", 14, (-9, -1), (1, 9)), ("16 8 4", 21, (-25, -8), (-7, 0)),
])
def test_two_or_three_results_say_what_they_can(values, every, low, high):
    told = line(judged(facts(values, every=every), 20.0))
    weeks = (told.last_on - told.first_on).days / 7
    assert told.verdict == "too_early" and "is possible so far" in reason(told)
    assert low[0] <= weeks * told.rate_low80 <= low[1] and high[0] <= weeks * told.rate_high80 <= high[1]


def test_one_result_or_one_week_says_nothing_but_how_many_more():
    assert reason(line(judged(facts("12"), 20.0))).endswith("over three weeks or longer.")
    assert reason(line(judged(facts("12 14 13", every=2), 20.0))).endswith("over three weeks or longer.")


LEFT, RIGHT = "14 15 13 16 14 12 15 14", "15 13 16 14 13 15 13 14"


def test_two_feet_level_for_eight_weeks_say_together_what_neither_says_alone():
    assert line(judged(facts(LEFT), 25.0)).verdict == line(judged(facts(RIGHT, side="R"), 25.0)).verdict == "not_clear"
    both = judged(facts(LEFT) + facts(RIGHT, side="R"), 25.0).lines.values()
    assert [each.verdict for each in both] == ["stalled", "stalled"]
    assert all((each.since_on - MONDAY).days < 14 for each in both)


def test_a_foot_that_gains_is_not_level_because_the_other_is():
    lines = judged(facts(LEFT) + facts("10 12 11 13 12 14 13 15", side="R"), 25.0).lines
    assert lines["Ida", "rises", "R"].verdict in ("gaining", "not_clear")


def test_a_new_way_of_counting_is_no_loss():
    line = judged(facts("18 19 18 19 20 19 | 11 12 11 12 12 13"), 30.0).lines["Ida", "rises", "L"]
    assert line.verdict in ("gaining", "not_clear") and line.has_new_protocol and line.drop is None


def test_the_same_level_under_two_protocols_is_no_gain():
    line = judged(facts("15 15 16 15 15 15 | 15 15 15 15 15 15 15 15"), 30.0).lines["Ida", "rises", "L"]
    assert line.verdict == "stalled"


@pytest.mark.parametrize(("values", "cap", "verdict"), [
    ("9 10 9 10 6+ 9 10 9", float("inf"), ("stalled", "not_clear")),
    ("9 10 9 10 6+ 6+ 6+ 6+", float("inf"), ("stalled", "not_clear")),
    ("22 24 25+ 25+ 25+ 25+", 25.0, ("at_target",)),
    ("12 13 12+ 13 12+ 14 13", 25.0, ("gaining", "not_clear")),
])
def test_only_the_protocols_own_cap_is_an_end(values, cap, verdict):
    assert next(iter(judged(facts(values, cap=cap), 40.0).lines.values())).verdict in verdict


def test_a_class_that_drops_together_is_a_question_about_the_day():
    names = [f"s{number}" for number in range(8)]
    results = [each for name in names for each in facts("18 19 18 20 19 20 9 10", student=name)]
    told = judged(results, 30.0)
    assert {line.verdict for line in told.lines.values()} == {"not_clear"}
    (day,) = told.class_stalls
    assert day.is_drop and day.since_on == MONDAY + dt.timedelta(weeks=6)
    assert "What was different that day?" in class_question(day)


def test_one_child_that_drops_beside_a_class_is_said():
    results = [each for n in range(8) for each in facts("15 16 15 17 16 17 18 18", student=f"s{n}")]
    told = judged(results + facts("18 19 18 20 19 20 8 9"), 30.0)
    assert told.lines["Ida", "rises", "L"].verdict == "dropped" and not told.class_stalls
