"""What hurts again opens its matter again with its story: limits in days on the day before, the day, the day after."""
import datetime as dt
import uuid

import pytest
from django.utils import timezone

from progress.actions import answering, returning
from progress.actions.day import ClassDay, state_attendance
from progress.actions.follow_ups import due_day
from progress.actions.pain import report_pain, take_back_report
from progress.models import ClassLog, FollowUp, FollowUpNote, PainAnswer
from progress.queries.pain import referral_of_follow_up, referral_so_far
from progress.queries.resting import rests
from progress.rules.pain import Report
from progress.rules.pain_returns import comes_back, goes_with, is_same_matter, referral
from progress.rules.resting import NO_RISES, NOTHING, SEATED
from studio.actions import Refused
from studio.models import ClassMeeting, Holiday

DAY = dt.timedelta(days=1)
DULL, SHARP, LIMPS = ("dull",), ("sharp",), ("limps",)
START = dt.date(2031, 3, 3)


def told(on, places=("L-heel",), feels=DULL, **more):
    return Report(tuple(places), tuple(feels), on=on, **more)


# --- the rules ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("days", "is_back"), [(13, True), (14, True), (15, False)])
def test_watched_pain_is_remembered_for_fourteen_days(days, is_back):
    assert bool(comes_back(told(START + days * DAY), [told(START)])) == is_back


@pytest.mark.parametrize("feels", [SHARP, LIMPS])
@pytest.mark.parametrize(("days", "is_back"), [(55, True), (56, True), (57, False)])
def test_a_stop_sign_is_remembered_for_eight_weeks_of_its_day(days, is_back, feels):
    assert bool(comes_back(told(START + days * DAY), [told(START, feels=feels)])) == is_back


@pytest.mark.parametrize(("days", "is_back"), [(55, True), (56, True), (57, False)])
def test_eight_weeks_are_counted_anew_from_the_return(days, is_back):
    settled = START + 40 * DAY
    before = told(START, feels=SHARP, settled_on=settled, was_followed=True)
    assert bool(comes_back(told(settled + days * DAY), [before])) == is_back


@pytest.mark.parametrize(("days", "is_back"), [(55, True), (56, True), (57, False)])
def test_what_was_to_be_seen_is_remembered_as_long_as_a_stop_sign(days, is_back):
    before = told(START, settled_on=START, was_followed=True)
    assert bool(comes_back(told(START + days * DAY), [before])) == is_back


def test_a_matter_that_waits_is_remembered_however_long_it_waits():
    assert comes_back(told(START + 200 * DAY), [told(START, is_open=True)])


@pytest.mark.parametrize("name", ["heel", "shin"])
@pytest.mark.parametrize(("days", "why"), [(0, "growing"), (13, "growing"), (14, "growing"), (15, "")])
def test_one_heel_and_then_the_other_are_looked_at_while_a_child_grows(days, why, name):
    assert referral([told(START, [f"L-{name}"]), told(START + days * DAY, [f"R-{name}"])]) == why


def test_the_other_heel_goes_with_the_first_however_long_that_one_waits():
    first = told(START, is_open=True)
    assert referral([first, told(START + 60 * DAY, ["R-heel"])]) == "growing"
    assert goes_with(told(START + 60 * DAY, ["R-heel"]), first)
    assert not goes_with(told(START + 60 * DAY, ["R-shin"]), first)


@pytest.mark.parametrize(("days", "why"), [(6, ""), (7, ""), (8, "lasts")])
def test_an_ache_of_both_calves_may_last_seven_days(days, why):
    calves = [told(START + each * DAY, ("L-calf", "R-calf"), intensity=2) for each in (0, days)]
    assert referral(calves) == why


@pytest.mark.parametrize("every", [7, 8, 10])
def test_slow_repeats_have_come_back(every):
    assert referral([told(START + n * every * DAY) for n in range(2)]) == "came_back"


@pytest.mark.parametrize("other", [
    told(START, ("L-achilles",)), told(START, ("L-shin",)), told(START, ("L-calf",)), told(START, ("L-outer-edge",)),
    told(START, (), note="left ankle again"), told(START, (), note="die linke Ferse tut weh"),
    told(START, (), note="her foot"), told(START, ("R-heel", "L-toes")),
])
def test_a_neighbouring_spot_of_the_same_foot_is_the_same_matter(other):
    assert is_same_matter(told(START), other) and is_same_matter(other, told(START))


@pytest.mark.parametrize("other", [
    told(START, ("R-heel",)), told(START, ("L-knee",)), told(START, ("back",)),
    told(START, (), note="right ankle"), told(START, (), note="das linke Knie"),
])
def test_the_other_foot_or_another_joint_is_another_matter(other):
    assert not is_same_matter(told(START), other) and not is_same_matter(other, told(START))


@pytest.mark.parametrize(("one", "other", "is_same"), [
    ("left thigh", "the thigh again, left side", True), ("left thigh", "right thigh", False),
    ("innen am linken Knie", "left knee", True), ("thigh", "left thigh", True), ("left thigh", "left wrist", False),
])
def test_pain_told_in_words_is_compared_by_words_and_side(one, other, is_same):
    assert is_same_matter(told(START, (), note=one), told(START, (), note=other)) == is_same


def test_a_second_report_of_one_day_goes_with_the_first_and_has_not_come_back():
    first = told(START, feels=LIMPS)
    assert goes_with(told(START, ("L-calf",)), first)
    assert referral([first, told(START, ("L-calf",))]) == "seen_today"
    assert referral([told(START), told(START, ("L-calf",))]) == ""


def test_a_doctors_sign_that_was_seen_and_hurts_again_has_come_back():
    seen = told(START, feels=LIMPS, settled_on=START + 3 * DAY, was_followed=True)
    assert referral([seen]) == "seen_today"
    assert referral([seen, told(START + 20 * DAY)]) == "came_back"


# --- as it is kept --------------------------------------------------------------------------------------------------


@pytest.fixture
def day(cast, time_machine):
    """Goes to a day counted from the cast's own; noon of it."""
    def go(days):
        on = cast.screening.held_on + days * DAY
        time_machine.move_to(dt.datetime.combine(on, dt.time(12), dt.UTC), tick=False)
        return on
    return go


def hurts(cast, on, feels=DULL, places=("L-heel",), note="", **more):
    return report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=None, measure=None,
        places=list(places), feels=list(feels), intensity=None, stopped="", note=note, reported_on=on, by=cast.teacher,
        **more,
    )


def clear(cast, on, step=8):
    answering.answer_pain(
        follow_up=FollowUp.objects.get(closed_at__isnull=True), by=cast.teacher, closed_on=on,
        answer=answering.Answer(
            PainAnswer.CLINICIAN, "Seen.", step, said_by="Dr Vane", said_on=on, allowed="full class", allows="all",
        ),
    )


def settle(cast, on):
    answering.answer_pain(
        follow_up=FollowUp.objects.get(closed_at__isnull=True), by=cast.teacher, closed_on=on,
        answer=answering.Answer(PainAnswer.TEACHER, "Asked, fine.", 6),
    )


@pytest.mark.parametrize(("days", "kind"), [
    (55, FollowUp.STOP_SIGN), (56, FollowUp.STOP_SIGN), (57, FollowUp.PAIN_WATCHED),
])
def test_a_mild_ache_within_eight_weeks_of_a_return_opens_the_stop_sign_again(cast, day, days, kind):
    hurts(cast, day(0), SHARP)
    clear(cast, day(40))
    row = hurts(cast, day(40 + days), places=("L-shin",))
    follow_up = FollowUp.objects.get(closed_at__isnull=True)
    assert follow_up.kind == kind
    is_back = kind == FollowUp.STOP_SIGN
    assert referral_of_follow_up(follow_up) == referral_so_far(row) == ("came_back" if is_back else "")
    if is_back:
        assert FollowUp.objects.count() == 1
        kinds = [note.kind for note in follow_up.notes.all()]
        assert kinds == [FollowUpNote.CLOSED, FollowUpNote.CAME_BACK]
        assert rests([cast.ama.pk], now=timezone.now())[cast.ama.pk].allows == NO_RISES
    else:
        assert rests([cast.ama.pk], now=timezone.now()) == {}


def test_whatever_hurts_on_the_ladder_opens_the_matter_again_however_long_it_took(cast, day):
    hurts(cast, day(0), SHARP)
    clear(cast, day(5), step=3)
    hurts(cast, day(90), places=("L-toes",))
    follow_up = FollowUp.objects.get()
    assert follow_up.is_open and follow_up.kind == FollowUp.STOP_SIGN
    assert referral_of_follow_up(follow_up) == "came_back"
    assert returning.current_step(cast.ama).step == 2


@pytest.mark.parametrize(("days", "is_open"), [(55, True), (56, True), (57, False)])
def test_eight_weeks_run_from_the_last_step_of_the_way_back(cast, day, days, is_open):
    hurts(cast, day(0), SHARP)
    clear(cast, day(5), step=6)
    state_attendance(
        key=uuid.uuid4(), day=ClassDay(cast.class_group, cast.term, day(30)), present=[cast.ama], absent=[],
        by=cast.teacher,
    )
    log = ClassLog.objects.get()
    returning.move_up(student=cast.ama, class_log=log, today=day(30), note="", by=cast.teacher)
    hurts(cast, day(30 + days))
    assert FollowUp.objects.get(kind=FollowUp.STOP_SIGN).is_open == is_open


def test_watched_pain_that_hurts_in_the_next_class_is_to_be_seen_with_its_story(cast, day):
    hurts(cast, day(0))
    settle(cast, day(7))
    hurts(cast, day(8), places=(), note="left heel, after jumps")
    follow_up = FollowUp.objects.get()
    assert (follow_up.kind, follow_up.is_open) == (FollowUp.PAIN_LASTS, True)
    assert [note.text for note in follow_up.notes.all()] == [
        "Asked, fine.", "Now to be seen by a health professional.", "It came back.",
    ]


def test_open_watched_pain_becomes_what_the_new_report_makes_of_it(cast, day):
    hurts(cast, day(0))
    hurts(cast, day(3), SHARP)
    follow_up = FollowUp.objects.get()
    assert (follow_up.kind, follow_up.pain_reports.count()) == (FollowUp.STOP_SIGN, 2)


def test_watched_pain_beside_a_stop_sign_of_its_own_foot_goes_on_with_that(cast, day):
    hurts(cast, day(0))
    hurts(cast, day(0), SHARP, ("R-knee",))
    hurts(cast, day(3), SHARP)
    watched = FollowUp.objects.get(kind=FollowUp.PAIN_WATCHED)
    assert not watched.is_open and "Stop sign" in watched.notes.get().text
    assert FollowUp.objects.get(kind=FollowUp.STOP_SIGN).pain_reports.count() == 3


def test_other_pain_is_asked_about_apart(cast, day):
    hurts(cast, day(0), SHARP)
    hurts(cast, day(3), places=("R-knee",))
    assert {f.kind for f in FollowUp.objects.all()} == {FollowUp.STOP_SIGN, FollowUp.PAIN_WATCHED}


@pytest.mark.parametrize("earlier", [0, 1])
def test_a_doctors_sign_rests_from_everything_beside_an_older_stop_sign_and_the_other_way_round(cast, day, earlier):
    signs = [SHARP, LIMPS]
    hurts(cast, day(0), signs[earlier], ("R-knee",))
    assert rests([cast.ama.pk], now=timezone.now())[cast.ama.pk].allows == (NOTHING if earlier else SEATED)
    hurts(cast, day(1), signs[1 - earlier])
    assert rests([cast.ama.pk], now=timezone.now())[cast.ama.pk].allows == NOTHING


@pytest.mark.parametrize(("days", "may"), [(0, False), (1, False), (2, True), (3, True)])
@pytest.mark.parametrize("feels", [SHARP, DULL])
def test_a_teacher_settles_pain_from_the_day_of_the_next_class_on(cast, day, days, may, feels):
    told_on = day(0)
    ClassMeeting.objects.create(
        class_group=cast.class_group, weekday=(told_on + 2 * DAY).weekday(), starts_at=dt.time(16)
    )
    hurts(cast, told_on, feels)
    if may:
        settle(cast, day(days))
    else:
        with pytest.raises(Refused, match="next class"):
            settle(cast, day(days))
    assert FollowUp.objects.get().is_open != may


@pytest.mark.parametrize(("days", "may"), [(0, False), (1, True)])
def test_where_no_next_class_is_known_it_is_the_day_after(cast, day, days, may):
    hurts(cast, day(0), SHARP)
    if may:
        settle(cast, day(days))
    else:
        with pytest.raises(Refused):
            settle(cast, day(days))
    assert FollowUp.objects.get().is_open != may


def test_a_clinician_and_a_mistake_wait_for_no_class(cast, day):
    row = hurts(cast, day(0), SHARP)
    clear(cast, day(0))
    assert row.answer.kind == PainAnswer.CLINICIAN
    other = hurts(cast, day(1), SHARP, ("R-knee",))
    take_back_report(report=other, by=cast.teacher, on=day(1))
    assert not FollowUp.objects.filter(closed_at__isnull=True).exists()


def test_watched_pain_is_due_on_the_next_day_of_class_and_not_in_a_holiday(cast, day):
    told_on = day(-21)
    ClassMeeting.objects.create(class_group=cast.class_group, weekday=told_on.weekday(), starts_at=dt.time(16))
    off = told_on + 7 * DAY
    assert due_day(FollowUp.PAIN_WATCHED, cast.class_group, told_on) == off
    Holiday.objects.create(term=cast.term, name="A day off", starts_on=off, ends_on=off)
    hurts(cast, told_on)
    assert FollowUp.objects.get().due_on == told_on + 14 * DAY
    Holiday.objects.create(term=cast.term, name="More", starts_on=off, ends_on=told_on + 20 * DAY)
    assert due_day(FollowUp.PAIN_WATCHED, cast.class_group, told_on) == told_on + 14 * DAY
    assert due_day(FollowUp.STOP_SIGN, cast.class_group, told_on) == told_on


def test_a_new_report_makes_nothing_due_later_than_it_was(cast, day):
    hurts(cast, day(0), SHARP)
    hurts(cast, day(3), SHARP)
    assert FollowUp.objects.get().due_on == cast.screening.held_on


def test_watched_pain_of_a_class_without_days_is_due_in_a_week(cast, day):
    hurts(cast, day(0))
    assert FollowUp.objects.get().due_on == cast.screening.held_on + 7 * DAY


def test_a_return_that_was_tapped_by_mistake_closes_again_and_leaves_the_matter_as_it_was(cast, day):
    hurts(cast, day(0), SHARP)
    clear(cast, day(3))
    row = hurts(cast, day(10))
    take_back_report(report=row, by=cast.teacher, on=day(10))
    assert not FollowUp.objects.get().is_open
    assert rests([cast.ama.pk], now=timezone.now()) == {}
