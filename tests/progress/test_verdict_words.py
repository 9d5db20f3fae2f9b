"""The sentences: what they must say, how short they are, and that they never say more than they know."""

import dataclasses
import itertools
from datetime import date

import pytest

from progress.judging.judgement import ClassStall, Drop, Line
from progress.words.spoken import spoken
from progress.words.verdict import VERDICTS, class_question, how_sure, label, reason
from studio.voice import PLAIN, plain_number, plain_signed

WEEK_6 = date(2031, 2, 3)
LINE = Line(
    student="Dunya", measure="rises", side="L", verdict="stalled", results=11, results_missing=0,
    level=15.2, level_low80=13.9, level_high80=16.5, rate=0.1, rate_low80=-0.2, rate_high80=0.4,
    p_gain=0.09, p_flat=0.80, p_slip=0.11, since_on=WEEK_6, since_from=WEEK_6, weeks_to_target=(None, None, None),
    target=None, at_cap=False, gap=None, one_sided=True, with_class=False, flagged_on=WEEK_6, held_back=(),
    measure_again=False, first_on=WEEK_6, last_on=WEEK_6, first_level=12.0, p_no_gain=0.81,
)  # fmt: skip
NAMES = {"rises": "rises", "balance": "balance", "landing": "landings"}


def changed(**more: object) -> Line:
    return dataclasses.replace(LINE, **more)


def test_a_stall_says_since_when_how_fast_how_sure_and_which_foot():
    assert reason(LINE, units={"rises": "rises"}) == (
        "Stalled since about week 6: +0.1 rises a week (likely −0.2 to +0.4). Clearly likelier to have levelled off "
        "than to be still gaining. Left foot only. Three to five better counts usually change this."
    )


@pytest.mark.parametrize(("p_gain", "words"), [
    (0.30, "At least as likely to have levelled off"), (0.27, "Twice as likely to have levelled off"),
    (0.15, "Three times as likely"), (0.10, "Clearly likelier"), (0.001, "Clearly likelier"),
])
def test_odds_are_those_of_an_ordinary_class_and_no_number_above_three(p_gain, words):
    text = reason(changed(p_gain=p_gain, p_no_gain=0.81))
    assert words in text and not any(digit in text.split(").", 1)[1] for digit in "0123456789")


def test_a_stretch_says_that_it_is_one_instead_of_odds():
    assert "No gain to speak of in six weeks, however much one count wobbles." in reason(changed(seen=True))


def test_a_flag_whose_last_results_are_better_says_so():
    text = reason(changed(easing=True))
    assert "The last results are better: it may be ending." in text and "usually change this" not in text


def test_a_loss_says_what_is_to_be_done_and_no_pace():
    drop = Drop(19.0, 8.0, date(2031, 11, 3), date(2031, 11, 10))
    assert reason(changed(verdict="dropped", drop=drop), units={"rises": "rises"}) == (
        "Down from about 19 to 8 rises between 3 November and 10 November. Ask what happened, and look at the foot. "
        "Left foot only."
    )


@pytest.mark.parametrize(("asks", "words"), [
    ("low", "measure again, and ask whether it hurts"), ("high", "counted another way?"), ("class", "the day first"),
])
def test_a_sudden_change_is_asked_about(asks, words):
    assert words in reason(changed(verdict="not_clear", asks=asks))


def test_a_stall_of_the_whole_class_points_to_the_programme():
    text = reason(changed(with_class=True))
    assert "So is most of the class" in text and "usually change" not in text


def test_too_early_says_how_many_more():
    assert "1 more result is needed" in reason(changed(verdict="too_early", results_missing=1))
    assert "3 more results are needed" in reason(changed(verdict="too_early", results_missing=3))


def test_a_hold_speaks_of_per_cent_and_a_grade_of_grades():
    assert "+4 % a week (likely −1 to +9)" in reason(
        changed(verdict="gaining", scale="hold", rate=4.2, rate_low80=-1.1, rate_high80=9.3)
    )
    assert "+0.10 grades a week" in reason(changed(scale="grade"))


def test_at_the_cap_asks_for_a_harder_version():
    said = reason(changed(verdict="at_target", at_cap=True))
    assert said == "This is the most the test can show. Use a harder version."


def test_at_target_names_target_and_level():
    text = reason(changed(verdict="at_target", target=15.0))
    assert text == "At the target of 15: level about 15 rises (likely 14 to 16)."


@pytest.mark.parametrize(("weeks", "words"), [
    ((2.6, 5.0, 8.2), "If this goes on, the target of 20 may come in 2 to 9 weeks."),
    ((0.0, 0.4, 0.9), "If this goes on, the target of 20 may come in 1 to 2 weeks."),
    ((1.2, 9.0, None), "If this goes on, the target of 20 may come in 1 week at the earliest."),
    ((3.0, None, None), "If this goes on, the target of 20 may come in 3 weeks at the earliest."),
    ((None, None, None), "At this pace the target of 20 is more than a year away."),
])
def test_a_gain_says_when_the_target_may_come_as_a_range_and_never_as_one_week(weeks, words):
    assert words in reason(changed(verdict="gaining", target=20.0, weeks_to_target=weeks))


@pytest.mark.parametrize(
    "other", [{"verdict": "stalled"}, {"verdict": "not_clear"}, {"target": None}, {"scale": "grade"}]
)
def test_no_target_is_promised_to_a_line_that_does_not_gain_has_none_or_is_a_grade(other):
    line = changed(**({"verdict": "gaining", "target": 2.0, "weeks_to_target": (1.0, 2.0, 3.0)} | other))
    assert "may come" not in reason(line) and "a year away" not in reason(line)


def test_not_clear_says_what_would_settle_it():
    assert "Two more results" in reason(changed(verdict="not_clear", measure_again=True))


def test_held_back_results_are_named_and_circumstances_come_last():
    text = reason(changed(held_back=(1, 2)), circumstances=["A growth spurt is noted."])
    assert "2 results wait to be confirmed." in text and text.endswith("A growth spurt is noted.")


@pytest.mark.parametrize("verdict", VERDICTS)
def test_every_verdict_has_a_label_and_a_reason(verdict):
    drop = Drop(19.0, 8.0, WEEK_6, WEEK_6) if verdict == "dropped" else None
    assert label(verdict) and reason(changed(verdict=verdict, drop=drop)).endswith(".")


def test_the_spoken_sentence_tells_the_feet_apart():
    text = spoken([LINE, changed(side="R", verdict="gaining")], names=NAMES)
    assert text == "The left foot has stalled in rises since about week 6; the right goes on."


def test_a_foot_at_the_target_is_never_said_without_the_measure():
    lines = [changed(side="L", verdict="not_clear"), changed(side="R", verdict="at_target")]
    told = spoken(lines, names={"rises": "rises"})
    assert told == "The right foot is at the target in rises; too soon to say about the left."


def test_the_spoken_sentence_adds_what_goes_well():
    more = [changed(measure=name, side=side, verdict="gaining") for name in ("balance", "landing") for side in "LR"]
    text = spoken([LINE, changed(side="R", verdict="gaining"), *more], names=NAMES)
    assert text.endswith("Balance and landings are improving.")


def test_the_spoken_sentence_names_what_needs_a_look_too_before_what_improves():
    more = [changed(measure="balance", side=side, verdict="stalled", scale="hold") for side in "LR"]
    more += [changed(measure="landing", side=side, verdict="not_clear", scale="grade") for side in "LR"]
    text = spoken([changed(verdict="slipping"), changed(side="R", verdict="gaining"), *more], names=NAMES)
    assert text.endswith("the right goes on. Look at balance, too.") or "Look at balance, too." in text


@pytest.mark.parametrize("verdict", VERDICTS)
def test_how_sure_has_at_most_three_paragraphs_and_says_nothing_that_the_reason_does_not(verdict):
    drop = Drop(19.0, 8.0, WEEK_6, WEEK_6) if verdict == "dropped" else None
    line = changed(verdict=verdict, drop=drop)
    told = how_sure(line, circumstances=["A growth spurt is noted."])
    assert 1 <= len(told) <= 3 and all(words[-1] == "." for words in told)
    assert told[-1].endswith("A growth spurt is noted.")
    if verdict == "stalled":
        assert told[0].startswith("Since about week 6. ") and "The level is most likely" in told[1]


def test_any_spoken_sentence_is_short_without_numbers_but_weeks_and_without_pronouns():
    for left, right, other in itertools.product(VERDICTS, repeat=3):
        lines = [
            changed(verdict=left), changed(side="R", verdict=right),
            changed(measure="balance", side="L", verdict=other, scale="hold"),
            changed(measure="balance", side="R", verdict=other, scale="hold"),
            changed(measure="landing", side="", verdict="gaining", scale="grade"),
        ]  # fmt: skip
        text = spoken(lines, names=NAMES)
        assert 10 < len(text) < 140 and text[0].isupper()
        assert not any(character.isdigit() for character in text.replace("week 6", ""))
        assert not {"she", "her", "he", "his", "they", "their"} & set(text.lower().replace(".", "").split())


def test_nothing_known_is_said_as_too_early():
    assert spoken([changed(verdict="too_early")]).startswith("It is too early to say")


def test_the_class_question_asks_about_the_programme():
    one = ClassStall("rises", WEEK_6, 0.7, ("Ida",), 3.0)
    told = class_question(one, names=NAMES)
    assert told.startswith("Rises: hardly any change since about week 6 for most of the class. Measure once more")
    assert "Look again after the next class" in class_question(dataclasses.replace(one, firm=False))
    assert "Several measures" in class_question(dataclasses.replace(one, measure=None))


def test_shown_numbers_have_a_real_minus_and_no_minus_zero():
    assert plain_signed(-0.25, 1) == "−0.2" and plain_number(-0.01, 1) == "0.0" and plain_signed(-0.01, 1) == "0.0"


def test_words_go_through_the_voice():
    loud = dataclasses.replace(PLAIN, gettext=str.upper)
    assert "LEFT FOOT ONLY." in reason(
        LINE, voice=dataclasses.replace(loud, gettext=lambda text: text.upper() if "%" not in text else text)
    )
