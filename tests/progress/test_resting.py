"""What a rest is, field by field: whom it is about, what it forbids, what is told of it, and where it stands."""
import datetime as dt
import uuid

import pytest
from django.utils import timezone

from progress.actions.answering import Answer, answer_pain
from progress.actions.pain import report_pain, stop_key
from progress.models import FollowUp, FollowUpNote, PainAnswer
from progress.queries.resting import excused, left_out, rest_words, resting_students, rests
from progress.rules.resting import (
    JUMPS_ON_ONE,
    JUMPS_ON_TWO,
    NO_RISES,
    NOTHING,
    ONE_FOOT,
    SEATED,
    TWO_FEET,
    UNLOADED,
    work_of,
)
from studio.family.actions import record_consent
from studio.models import Consent

DAY = dt.timedelta(days=1)


def hurt(cast, student, *, ago=0, feels=("sharp",), places=("L-achilles",), **more):
    told = {"intensity": None, "stopped": "", "note": ""} | more
    return report_pain(
        key=uuid.uuid4(), student=student, class_group=cast.class_group, screening=None, measure=None,
        places=list(places), feels=list(feels), reported_on=cast.screening.held_on - ago * DAY, by=cast.teacher, **told,
    )


def found(*students):
    return rests([student.pk for student in students], now=timezone.now())


def take_back(cast, student, scope):
    record_consent(
        student=student, scopes=[scope], is_given=False, said_by="Family", way=Consent.LETTER, by=cast.owner,
        at=timezone.now(),
    )


def test_pain_that_is_only_watched_is_no_rest(cast):
    hurt(cast, cast.ama, feels=["dull"], intensity=2)
    assert FollowUp.objects.get().kind == FollowUp.PAIN_WATCHED
    assert found(cast.ama) == {}
    assert resting_students([cast.ama.pk], now=timezone.now()) == set()


def test_somebody_elses_pain_rests_nobody_who_was_asked_about(cast):
    hurt(cast, cast.bettina)
    assert found(cast.ama) == {}
    assert set(found(cast.ama, cast.bettina)) == {cast.bettina.pk}
    assert set(left_out([cast.ama.pk], now=timezone.now())) == set()


def test_a_stop_sign_is_pain_that_leaves_seated_work(cast):
    hurt(cast, cast.ama)
    rest = found(cast.ama)[cast.ama.pk]
    assert (rest.allows, rest.is_pain, rest.is_told, rest.since) == (SEATED, True, True, cast.screening.held_on)


def test_what_a_doctor_is_to_see_the_same_day_leaves_nothing(cast):
    hurt(cast, cast.ama, feels=["limps"])
    rest = found(cast.ama)[cast.ama.pk]
    assert (rest.allows, rest.is_pain, rest.is_told) == (NOTHING, True, True)


def test_what_a_health_professional_is_to_see_is_open_pain_that_leaves_out_rises(cast):
    """Mild pain that lasts is no stop sign; whoever should see it has not yet."""
    FollowUp.objects.create(
        student=cast.ama, kind=FollowUp.PAIN_LASTS, class_group=cast.class_group, opened_on=cast.screening.held_on,
        due_on=cast.screening.held_on,
    )
    rest = found(cast.ama)[cast.ama.pk]
    assert (rest.allows, rest.is_pain, rest.is_told, rest.words) == (NO_RISES, True, True, "no rises for now")


def test_a_step_of_the_way_back_is_no_open_pain(cast):
    hurt(cast, cast.ama, ago=2)
    answer_pain(
        follow_up=FollowUp.objects.get(), closed_on=cast.screening.held_on - DAY, by=cast.teacher,
        answer=Answer(PainAnswer.CLINICIAN, "Seen.", 3, said_by="Dr Vane", said_on=cast.screening.held_on - DAY,
                      allowed="two feet only", allows="all"),
    )
    rest = found(cast.ama)[cast.ama.pk]
    assert (rest.is_pain, rest.is_told, rest.said) == (False, True, "two feet only")


def test_a_step_and_new_pain_together_are_the_stricter_of_both(cast):
    test_a_step_of_the_way_back_is_no_open_pain(cast)
    hurt(cast, cast.ama, places=["R-knee"])
    assert found(cast.ama)[cast.ama.pk].allows == SEATED


def test_without_consent_to_pain_notes_the_student_rests_and_no_word_says_why(cast):
    hurt(cast, cast.ama)
    take_back(cast, cast.ama, Consent.PAIN)
    rest = found(cast.ama)[cast.ama.pk]
    assert (rest.allows, rest.words, rest.is_pain, rest.is_told) == (SEATED, "not asked", False, False)


def test_without_consent_to_measurements_nobody_is_asked_and_nothing_is_pain(cast):
    take_back(cast, cast.ama, Consent.MEASUREMENTS)
    rest = left_out([cast.ama.pk, cast.bettina.pk], now=timezone.now())
    assert set(rest) == {cast.ama.pk}
    told = rest[cast.ama.pk]
    assert (told.allows, told.words, told.is_pain, told.is_told) == (NOTHING, "not asked", False, False)
    assert told.since == cast.screening.held_on


def test_at_the_barre_a_rest_is_a_rest_and_nothing_else_is_told(cast):
    hurt(cast, cast.ama, feels=["limps"])
    told = found(cast.ama)[cast.ama.pk]
    assert (told.words, rest_words(told)) == ("nothing for now", "no rises for now")
    take_back(cast, cast.ama, Consent.PAIN)
    assert rest_words(found(cast.ama)[cast.ama.pk]) == "not asked"


@pytest.mark.parametrize(("loads_foot", "each_foot", "is_jump", "work"), [
    (True, True, False, ONE_FOOT), (True, False, False, TWO_FEET), (False, True, False, UNLOADED),
    (False, False, False, UNLOADED), (True, True, True, JUMPS_ON_ONE), (True, False, True, JUMPS_ON_TWO),
])
def test_what_an_exercise_or_a_measure_asks_of_the_foot(loads_foot, each_foot, is_jump, work):
    assert work_of(loads_foot=loads_foot, each_foot=each_foot, is_jump=is_jump) == work


def test_a_rest_leaves_out_the_measures_that_load_the_foot(cast):
    hurt(cast, cast.ama)
    now = found(cast.ama)
    assert set(excused(now, cast.rises)) == set(excused(now, cast.landing)) == {cast.ama.pk}


# --- one matter ----------------------------------------------------------------------------------


def came_back() -> int:
    return FollowUpNote.objects.filter(text="It came back.").count()


def test_a_second_report_of_an_open_matter_did_not_come_back(cast):
    hurt(cast, cast.ama, ago=1)
    hurt(cast, cast.ama)
    assert (FollowUp.objects.count(), came_back()) == (1, 0)


def test_another_matter_that_joins_an_open_stop_sign_did_not_come_back(cast):
    hurt(cast, cast.ama, ago=1)
    hurt(cast, cast.ama, places=["R-knee"])
    assert (FollowUp.objects.count(), came_back()) == (1, 0)


def test_what_hurts_again_after_it_was_closed_came_back_once(cast):
    test_a_step_of_the_way_back_is_no_open_pain(cast)
    hurt(cast, cast.ama)
    assert (FollowUp.objects.count(), came_back()) == (1, 1)


def test_a_reports_stop_in_a_run_has_its_key_with_the_last_bit_turned():
    """As static/js/hurts.js makes it on the tablet, so that the report's undoing finds it."""
    report = uuid.UUID("7f1c9a52-5d0e-4a36-9a7b-3c1f2b7e4d60")
    assert str(stop_key(report)) == "7f1c9a52-5d0e-4a36-9a7b-3c1f2b7e4d61"
    assert stop_key(stop_key(report)) == report
