"""Who may answer pain: a referred one waits for a clinician or the owner; an answer that was wrong is taken back."""
import datetime as dt
import uuid

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from progress.actions import answering
from progress.actions.pain import report_pain, take_back_report
from progress.models import FollowUp, FollowUpNote, PainAnswer, PainReport, ReturnStep
from progress.queries import resting_students
from progress.queries.pain import referral_of_follow_up
from studio.actions import Refused

FULL_CLASS, JUMPS = 8, 6


def report(cast, *, feels=("sharp",), places=("L-achilles",), days_ago=0, since="", intensity=None):
    return report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=None, measure=None,
        places=list(places), feels=feels, intensity=intensity, stopped="", note="", since=since,
        reported_on=cast.screening.held_on - dt.timedelta(days=days_ago), by=cast.teacher,
    )


def answer(cast, kind, by, **said):
    """After a stop sign a teacher goes on with a step before full class."""
    step = JUMPS if kind == PainAnswer.TEACHER else FULL_CLASS
    answering.answer_pain(
        follow_up=FollowUp.objects.get(closed_at__isnull=True), by=by, closed_on=cast.screening.held_on,
        answer=answering.Answer(kind, "Looked at it.", **({"step": step} | said)),
    )


def clearance(cast, by, **other):
    said = {"said_by": "Dr Vane", "said_on": cast.screening.held_on, "allowed": "full class", "allows": "all"}
    answer(cast, PainAnswer.CLINICIAN, by, **(said | other))


# Each way in which pain asks for a health professional.
REFERRED = {
    "the same place in two classes": [{"days_ago": 7}, {"days_ago": 0}],
    "for over seven days": [{"feels": ["dull"], "since": "longer"}],
    "a sign for a doctor today": [{"feels": ["limps"]}],
}


@pytest.mark.parametrize("reports", REFERRED.values(), ids=REFERRED)
@pytest.mark.parametrize("kind", [PainAnswer.TEACHER, PainAnswer.OWNER, PainAnswer.MISTAKE])
def test_a_teacher_cannot_close_what_a_health_professional_should_see(cast, reports, kind):
    for each in reports:
        report(cast, **each)
    with pytest.raises(Refused, match="clinician"):
        answer(cast, kind, cast.teacher)
    assert FollowUp.objects.get().is_open


@pytest.mark.parametrize("reports", REFERRED.values(), ids=REFERRED)
def test_a_clinicians_clearance_closes_it_whoever_records_it(cast, reports):
    for each in reports:
        report(cast, **each)
    clearance(cast, cast.teacher)
    assert not FollowUp.objects.get().is_open


def test_the_owner_closes_it_with_a_reason_and_the_reason_is_kept(cast):
    row = report(cast, feels=["numb"])
    answer(cast, PainAnswer.OWNER, cast.owner)
    assert (row.answer.kind, row.answer.note, row.answer.by) == ("owner", "Looked at it.", cast.owner)


def test_the_page_refuses_a_teacher_with_a_sentence_and_keeps_what_she_typed(as_teacher, cast):
    report(cast, feels=["numb"])
    typed = {"answer": "owner", "text": "She says it is fine.", "step": "8"}
    page = as_teacher.post(f"/follow-ups/{FollowUp.objects.get().pk}/close/", typed)
    assert page.status_code == 422
    assert "She says it is fine." in page.content.decode()
    assert FollowUp.objects.get().is_open


def test_the_page_does_not_offer_a_teacher_what_only_the_owner_may(as_teacher, cast):
    report(cast, feels=["numb"])
    page = as_teacher.get(f"/follow-ups/{FollowUp.objects.get().pk}/close/").content.decode()
    assert 'value="clinician"' in page
    assert 'value="owner"' not in page and 'value="mistake"' not in page


@pytest.mark.parametrize("lacking", [{"said_by": " "}, {"said_on": None}, {"allowed": ""}, {"allows": ""}])
def test_a_clearance_says_who_when_and_what(cast, lacking):
    report(cast)
    with pytest.raises(Refused):
        clearance(cast, cast.teacher, **lacking)


def test_the_database_keeps_no_clearance_without_a_name(cast):
    row = report(cast)
    with pytest.raises(IntegrityError), transaction.atomic():
        PainAnswer.objects.create(report=row, kind=PainAnswer.CLINICIAN, note="Fine.", by=cast.teacher)


def test_a_clearance_of_tomorrow_is_refused(cast):
    report(cast)
    with pytest.raises(Refused):
        clearance(cast, cast.teacher, said_on=cast.screening.held_on + dt.timedelta(days=1))


def test_expected_aches_of_both_sides_are_not_referred_when_they_come_back_once(cast):
    for days_ago in (5, 0):
        report(cast, feels=["dull"], places=("L-calf", "R-calf"), intensity=2, days_ago=days_ago)
    assert referral_of_follow_up(FollowUp.objects.get()) == ""


def test_an_answer_that_does_not_stand_is_taken_back_by_a_new_row(cast):
    row = report(cast, days_ago=1)
    answer(cast, PainAnswer.TEACHER, cast.teacher)
    answering.reopen_pain(
        follow_up=FollowUp.objects.get(), why="It was the other child.", on=cast.screening.held_on, by=cast.teacher
    )
    assert [each.kind for each in row.answers.all()] == [PainAnswer.TEACHER, PainAnswer.REOPENED]
    assert FollowUp.objects.get().is_open
    assert resting_students([cast.ama.pk], now=timezone.now())


def test_after_a_stop_sign_a_teacher_does_not_send_her_straight_into_full_class(cast):
    report(cast, days_ago=1)
    with pytest.raises(Refused, match="straight back to full class"):
        answer(cast, PainAnswer.TEACHER, cast.teacher, step=FULL_CLASS)
    assert FollowUp.objects.get().is_open
    answer(cast, PainAnswer.TEACHER, cast.teacher, step=JUMPS)
    assert ReturnStep.objects.get().step == JUMPS


def test_after_an_ache_that_was_watched_a_teacher_may(cast):
    report(cast, feels=["dull"], places=["L-sole"], days_ago=1)
    answer(cast, PainAnswer.TEACHER, cast.teacher, step=FULL_CLASS)
    assert not FollowUp.objects.get().is_open and not ReturnStep.objects.exists()


def test_taking_an_answer_back_needs_a_reason(cast):
    report(cast, days_ago=1)
    answer(cast, PainAnswer.TEACHER, cast.teacher)
    with pytest.raises(Refused):
        answering.reopen_pain(follow_up=FollowUp.objects.get(), why=" ", on=cast.screening.held_on, by=cast.teacher)
    assert not FollowUp.objects.get().is_open


def test_pain_that_comes_back_opens_the_same_follow_up_with_its_history(cast):
    report(cast, days_ago=9)
    answer(cast, PainAnswer.TEACHER, cast.teacher)
    report(cast)
    follow_up = FollowUp.objects.get()
    assert follow_up.is_open and follow_up.due_on == cast.screening.held_on
    assert [note.kind for note in follow_up.notes.all()] == [FollowUpNote.CLOSED, FollowUpNote.CAME_BACK]
    assert referral_of_follow_up(follow_up) == "came_back"


def test_pain_of_another_place_is_another_follow_up(cast):
    report(cast, days_ago=9)
    answer(cast, PainAnswer.TEACHER, cast.teacher)
    report(cast, places=("R-heel",))
    assert FollowUp.objects.count() == 2


def test_an_ache_that_turns_sharp_takes_its_follow_up_along(cast):
    for days_ago, feels in ((5, "dull"), (2, "dull"), (0, "sharp")):
        report(cast, feels=[feels], days_ago=days_ago)
    assert FollowUp.objects.get().kind == FollowUp.STOP_SIGN


def test_an_ache_where_a_stop_sign_waits_stays_with_that_one(cast):
    report(cast, days_ago=2)
    report(cast, feels=["dull"])
    follow_up = FollowUp.objects.get()
    assert (follow_up.kind, follow_up.pain_reports.count()) == (FollowUp.STOP_SIGN, 2)


def test_only_who_tapped_it_takes_a_report_back(cast):
    row = report(cast)
    with pytest.raises(Refused):
        take_back_report(report=row, by=cast.owner, on=cast.screening.held_on)
    assert resting_students([cast.ama.pk], now=timezone.now())


def test_a_report_cannot_be_deleted_in_any_usual_way(cast):
    row = report(cast)
    for delete in (row.delete, PainReport.objects.all().delete):
        with pytest.raises(TypeError):
            delete()
    assert PainReport.objects.count() == 1
