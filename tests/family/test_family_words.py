"""What a family is told: true to the line, without a verdict, a target, a range, a rank, or a word on readiness."""
import dataclasses
import datetime as dt
import re

import pytest

from progress.judging.judgement import Knot, Line
from progress.words.family import FamilyFacts, Hurt, Pain, family_words
from progress.words.family_strands import Strand

STARTS, AS_OF, ENDS = dt.date(2031, 1, 6), dt.date(2031, 3, 24), dt.date(2031, 4, 19)
VERDICTS = ("gaining", "at_target", "stalled", "slipping", "not_clear", "too_early")
# Words of the staff's pages that no page of a family may have, in either language.
FORBIDDEN = re.compile(
    r"\b(gaining|at target|the target|stalled|slipping|not clear|too early|level since|likely|norm|average|rank"
    r"|percent|better than|worse|other children|class average|behind|weak|fail|ready)\b", re.IGNORECASE,
)


def line(verdict: str, side: str, *, then: float = 10, now: float = 18, since: dt.date | None = None, **more) -> Line:
    knots = tuple(
        Knot(on, level, level - 1, level + 1, level - 3, level + 3, 1, False)
        for on, level in ((dt.date(2031, 1, 27), then), (AS_OF, now))
    )
    whole = dict.fromkeys([field.name for field in dataclasses.fields(Line)])
    whole |= {
        "student": 1, "measure": "rises", "side": side, "verdict": verdict, "level": now, "level_low80": now - 1,
        "level_high80": now + 1, "since_on": since, "knots": knots, "scale": "count", "at_cap": False, **more,
    }
    return Line(**whole)


def rises(*lines: Line, **more) -> Strand:
    base = Strand("Rises", "rising on one foot", "count", "", 2.4, dt.date(2031, 1, 27), lines)
    return dataclasses.replace(base, **more)


def told(*strands: Strand, **more):
    base = FamilyFacts("Ama", "spring term", "Ottoline Brack", AS_OF, STARTS, ENDS, strands, 22, 20)
    return family_words(dataclasses.replace(base, **more))


def everything(words) -> str:
    return "\n".join(_texts(dataclasses.asdict(words)))


def _texts(value):
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        yield from _texts(list(value.values()))
    elif isinstance(value, list | tuple):
        for each in value:
            yield from _texts(each)


def test_the_table_has_then_and_now_of_each_foot_right_first():
    words = told(rises(line("stalled", "L", then=11.4, now=12.2), line("gaining", "R", then=10.2, now=17.6)))
    assert [(row.name, row.then, row.now) for row in words.rows] == [
        ("Rises, right foot", "10", "18"), ("Rises, left foot", "11", "12"),
    ]
    assert (words.then_words, words.now_words) == ("in January", "now")


def test_the_month_over_a_number_is_the_month_of_that_number():
    """Not that of her first day, which may lie in the month before the first level."""
    words = told(rises(line("gaining", "R"), first_on=dt.date(2031, 1, 8)))
    early = [Knot(dt.date(2031, 2, 3), 10, 9, 11, 7, 13, 1, False)]
    later = told(rises(line("gaining", "R", knots=tuple(early)), first_on=dt.date(2031, 1, 29)))
    assert (words.then_words, later.then_words) == ("in January", "in February")


@pytest.mark.parametrize("verdict, then, now, words", [
    ("stalled", 10, 6, "does less than in January"), ("stalled", 8, 12, "does more than in January"),
    ("not_clear", 6, 10, "does more than in January"), ("not_clear", 9, 10, "varies from week to week"),
    ("gaining", 15, 15, "has stayed about the same"), ("gaining", 15, 12, "varies from week to week"),
    ("slipping", 10, 13, "does more than in January"), ("at_target", 20, 17, "does less than in January"),
])
def test_the_sentence_is_made_from_the_numbers_of_the_table(verdict, then, now, words):
    told_so = told(rises(line(verdict, "R", then=then, now=now)))
    assert words in told_so.stronger.sentences[0]
    assert [(row.then, row.now) for row in told_so.rows] == [(str(then), str(now))]


def test_a_foot_that_rose_and_fell_within_the_term_is_told_as_both():
    words = told(rises(line("slipping", "L", then=10, now=13, since=dt.date(2031, 2, 24)), line("gaining", "R")))
    assert "the left foot grew stronger until February and has done a little less since" in words.stronger.sentences[0]


def test_a_foot_that_went_on_and_one_that_stood_are_told_in_one_sentence():
    words = told(rises(line("stalled", "L", then=11, now=14, since=dt.date(2031, 2, 10)), line("gaining", "R")))
    assert words.stronger.sentences[0] == (
        "Rises: the right foot grew stronger; the left foot grew stronger until February and has stayed about the "
        "same since."
    )
    assert words.next.sentences[0] == "We carry on with the same work, left foot first."


def test_two_feet_of_one_way_are_told_once():
    assert told(rises(line("gaining", "L"), line("gaining", "R"))).stronger.sentences == (
        "Rises: both feet grew stronger.",
    )


def test_what_became_less_is_said_and_said_to_be_common():
    words = told(rises(line("slipping", "L", now=7, since=dt.date(2031, 2, 24)), line("gaining", "R")))
    assert "the left foot does less than in January" in words.stronger.sentences[0]
    common = "A few weeks without a step forward are normal. We are working on it in class."
    assert words.stronger.sentences[1] == common


def test_at_the_target_a_family_hears_whether_it_grew_and_of_no_target():
    grew = told(rises(line("at_target", "L"), line("at_target", "R")))
    kept = told(rises(line("at_target", "L", then=18, now=18), line("at_target", "R", then=18, now=18)))
    assert grew.stronger.sentences[0] == "Rises: both feet grew stronger."
    assert kept.stronger.sentences[0] == "Rises: both feet have stayed about the same since January."


def test_before_there_is_something_to_say_nothing_is_made_up():
    few = told(rises(line("too_early", "L", now=9), line("too_early", "R", now=9)))
    assert few.rows == () and few.stronger.sentences == ("Numbers follow when there are a few more results.",)
    assert told().stronger.sentences == ("Numbers follow after the first measuring day.",)
    assert told().wobble == ""


def test_a_first_number_of_last_week_is_no_then():
    assert told(rises(line("gaining", "L"), first_on=AS_OF - dt.timedelta(days=6))).rows == ()


def test_what_is_seen_and_not_counted_has_words_only():
    words = told(rises(line("gaining", "L"), line("gaining", "R"), name="Landings", kind="grade"))
    assert words.rows == () and words.stronger.sentences == ("Landings: both feet became steadier.",)


@pytest.mark.parametrize("kind, error, words", [
    ("count", 2.4, "One count can be two or three off"), ("count", 3.0, "One count can be three off"),
    ("hold", 0.32, "One balance can easily be 40 % longer or shorter"),
])
def test_how_much_one_result_may_be_off_is_said(kind, error, words):
    assert told(rises(line("gaining", "R"), kind=kind, typical_error=error)).wobble.startswith(words)


def test_whoever_rests_is_offered_no_rises_at_home():
    pain = Pain((Hurt(AS_OF, "Sharp, pin-point, left heel"),), "stop", allows="seated")
    resting = told(rises(line("gaining", "R")), pain=pain, may_exercise=False)
    assert not resting.poses
    assert not [step for step in resting.steps if "Slow rises" in step or "Stand on one foot" in step]
    assert resting.next.sentences[0].startswith("Rest comes first.")
    assert "24 March: sharp, pin-point, left heel." in resting.hurt.sentences


def test_a_rest_that_may_not_be_told_is_not_told_and_nothing_is_offered_either():
    silent = told(rises(line("gaining", "R")), may_exercise=False)
    assert silent.hurt is None and silent.next.sentences[0] == "We carry on with the same work."
    assert len(silent.steps) == 1 and "sleep" in silent.steps[0]


@pytest.mark.parametrize("left", VERDICTS)
@pytest.mark.parametrize("right", VERDICTS)
@pytest.mark.parametrize("kind", ["count", "hold", "grade"])
def test_no_verdict_target_range_rank_or_readiness_ever_comes_out(left, right, kind):
    more = {"since": dt.date(2031, 2, 10), "target": 20.0}
    for now in (10, 18):
        words = told(rises(line(left, "L", now=now, **more), line(right, "R", now=now, at_cap=True, **more), kind=kind))
        assert FORBIDDEN.findall(everything(words).replace(words.only_her, "")) == []
        assert "20" not in [row.now for row in words.rows]


def test_the_words_on_readiness_are_that_nothing_here_decides_it():
    words = told(rises(line("gaining", "R")))
    assert "does not say whether a child is ready for pointe" in words.only_her
    assert words.next.sentences[-1].endswith("No number decides it.")
