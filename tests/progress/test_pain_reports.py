"""Pain: a stop sign opens a follow-up at once, rests the child until answered, and never goes away."""
import datetime as dt
import re
import uuid

import pytest
from django.db.models import ProtectedError
from django.urls import reverse
from django.utils import timezone

from progress.actions import answering
from progress.actions.pain import report_pain, stop_key, take_back_report
from progress.models import FollowUp, PainAnswer, PainReport
from progress.queries import resting_students
from progress.queries.resting import rest_words, rests
from screening.models import Result
from studio.actions import Refused
from studio.ledger import Conflict
from tests.factories import ResultFactory
from tests.progress.test_absent import leave_out


def answer(cast, kind=PainAnswer.TEACHER, *, note="Settled in class.", by=None, step=8, seen=None, **said):
    answering.answer_pain(
        follow_up=FollowUp.objects.get(), answer=answering.Answer(kind, note, step, **said), seen=seen,
        closed_on=cast.screening.held_on, by=by or cast.teacher,
    )


def clearance(cast, **other):
    said = {"said_by": "Dr Vane", "said_on": cast.screening.held_on, "allowed": "Rises on two feet", "allows": "all"}
    answer(cast, PainAnswer.CLINICIAN, **(said | other))


def report(
    cast, *, feels=("sharp",), places=("L-achilles",), days_ago=0, intensity=None, stopped="", key=None, student=None
):
    return report_pain(
        key=key or uuid.uuid4(), student=student or cast.ama, class_group=cast.class_group, screening=cast.screening,
        measure=cast.rises, places=list(places), feels=feels, intensity=intensity, stopped=stopped, note="",
        reported_on=cast.screening.held_on - dt.timedelta(days=days_ago), by=cast.teacher,
    )


def test_a_stop_sign_opens_a_follow_up_due_today_and_rests_the_child(cast):
    row = report(cast)
    follow_up = FollowUp.objects.get()
    assert (follow_up.kind, follow_up.due_on, follow_up.acts) == (FollowUp.STOP_SIGN, row.reported_on, cast.teacher)
    assert resting_students([cast.ama.pk], now=timezone.now()) == {cast.ama.pk}


def test_the_same_report_sent_twice_is_one(cast):
    key = uuid.uuid4()
    assert report(cast, key=key) == report(cast, key=key)
    assert PainReport.objects.count() == 1


def test_a_second_sharp_pain_joins_the_open_follow_up(cast):
    report(cast, days_ago=5)
    report(cast)
    assert FollowUp.objects.get().pain_reports.count() == 2


def test_a_dull_pain_of_one_place_that_returns_within_days_is_followed_up(cast):
    report(cast, feels=["dull"], intensity=2, days_ago=6)
    assert FollowUp.objects.get().kind == FollowUp.PAIN_WATCHED
    report(cast, feels=["dull"], intensity=2)
    assert FollowUp.objects.filter(kind=FollowUp.PAIN_LASTS, closed_at__isnull=True).count() == 1


def test_closing_a_stop_sign_needs_a_note_and_who_answered(cast):
    report(cast)
    for note, kind, step in (("", "teacher", 8), ("   ", "teacher", 8), ("Seen.", "", 8), ("Seen.", "teacher", None)):
        with pytest.raises(Refused):
            answer(cast, kind, note=note, step=step)
    assert resting_students([cast.ama.pk], now=timezone.now())


def test_closing_answers_the_report_and_ends_the_rest(cast):
    row = report(cast)
    clearance(cast)
    assert (row.answer.kind, row.answer.said_by, row.answer.allowed) == ("clinician", "Dr Vane", "Rises on two feet")
    assert resting_students([cast.ama.pk], now=timezone.now()) == set()


def test_a_mistaken_tap_stays_on_record_and_closes_what_it_opened(cast):
    row = report(cast)
    take_back_report(report=row, by=cast.teacher, on=row.reported_on)
    assert PainReport.objects.get().answer.kind == PainAnswer.MISTAKE
    assert not FollowUp.objects.get().is_open
    assert resting_students([cast.ama.pk], now=timezone.now()) == set()


def test_the_stop_in_a_run_that_a_report_brought_goes_with_it(cast):
    key = uuid.uuid4()
    leave_out(cast, Result.PAIN, key=stop_key(key))
    mistaken = report(cast, key=key)
    take_back_report(report=mistaken, by=cast.teacher, on=mistaken.reported_on)
    assert [row.reason_missing for row in Result.objects.in_force()] == [Result.WITHDRAWN] * 2


def test_pain_that_was_said_on_the_sheet_stays_when_a_report_is_taken_back(cast):
    leave_out(cast, Result.PAIN)
    mistaken = report(cast)
    take_back_report(report=mistaken, by=cast.teacher, on=mistaken.reported_on)
    assert [row.reason_missing for row in Result.objects.in_force()] == [Result.PAIN] * 2


def test_a_mistaken_tap_does_not_close_a_stop_sign_that_was_meant(cast):
    report(cast, days_ago=2)
    mistaken = report(cast)
    take_back_report(report=mistaken, by=cast.teacher, on=mistaken.reported_on)
    assert FollowUp.objects.get().is_open
    assert resting_students([cast.ama.pk], now=timezone.now())


def test_a_student_with_a_pain_report_cannot_be_deleted(cast):
    report(cast)
    with pytest.raises(ProtectedError):
        cast.ama.delete()


def test_two_reports_of_one_day_are_not_pain_that_came_back(cast):
    report(cast, feels=["dull"], intensity=2)
    report(cast, feels=["dull"], intensity=3)
    assert FollowUp.objects.get().kind == FollowUp.PAIN_WATCHED


def test_the_same_key_with_another_place_is_a_conflict_and_loses_nothing(cast):
    key = uuid.uuid4()
    report(cast, key=key)
    with pytest.raises(Conflict):
        report(cast, key=key, places=("R-heel",))


def test_closing_is_refused_when_a_report_came_in_that_the_page_did_not_show(cast):
    seen = report(cast)
    report(cast, feels=["limps"])
    with pytest.raises(Refused):
        clearance(cast, seen=seen.pk)
    assert resting_students([cast.ama.pk], now=timezone.now())


def test_only_the_reports_own_day_takes_it_back_as_a_mistake(cast):
    row = report(cast, days_ago=3)
    with pytest.raises(Refused):
        take_back_report(report=row, by=cast.teacher, on=cast.screening.held_on)
    assert resting_students([cast.ama.pk], now=timezone.now())


def test_the_rest_is_said_beside_the_name_where_todays_results_fill_the_boxes(as_teacher, cast):
    for side in "LR":
        ResultFactory(
            screening=cast.screening, student=cast.ama, measure=cast.rises, side=side,
            protocol=cast.rises.protocols.get(), by=cast.teacher,
        )
    report(cast)
    page = as_teacher.get(f"/barre/screenings/{cast.screening.pk}/rises/").content.decode()
    assert rest_words(rests([cast.ama.pk], now=timezone.now())[cast.ama.pk]) in page
    assert len(re.findall(r">\s*14\s*<", page)) == 2


@pytest.mark.parametrize(("age", "days_ago"), [("", 0), ("60", 0), ("90000", 1), ("9999999", 7), ("-5", 0), ("x", 0)])
def test_a_report_that_a_tablet_kept_is_of_the_day_it_was_tapped(as_teacher, cast, age, days_ago):
    as_teacher.post(
        f"/barre/screenings/{cast.screening.pk}/hurts/{cast.ama.pk}/",
        {"key": str(uuid.uuid4()), "region": "L-heel", "feels": "sharp"},
        headers={"X-Outbox": "yes", "X-Outbox-Age": age},
    )
    assert PainReport.objects.get().reported_on == cast.screening.held_on - dt.timedelta(days=days_ago)


def test_the_same_report_sent_again_after_midnight_is_one(cast):
    key = uuid.uuid4()
    assert report(cast, key=key, days_ago=1) == report(cast, key=key)
    assert PainReport.objects.count() == 1


def test_the_students_page_and_the_follow_ups_say_the_same_of_who_must_see_it(as_teacher, cast):
    report(cast, days_ago=2)
    for says in ("No rises until this follow-up is closed.", "A health professional should see it: it has come back."):
        for page in (f"/students/{cast.ama.pk}/", "/follow-ups/"):
            assert says in " ".join(as_teacher.get(page).content.decode().split())
        report(cast)


def send(client, cast, *, more="", **said):
    return client.post(
        f"/barre/screenings/{cast.screening.pk}/hurts/{cast.ama.pk}/?measure=rises{more}",
        {"key": str(uuid.uuid4()), "region": "L-heel"} | said, headers={"X-Outbox": "yes"},
    )


def test_a_report_that_waited_on_an_old_page_is_taken_as_it_is(as_teacher, cast):
    assert send(as_teacher, cast, feels="dull", stopped="changed", intensity="3").status_code == 200
    row = PainReport.objects.get()
    assert (row.feels, row.signs, row.stopped, row.at_count) == (["dull"], [], "changed", None)


@pytest.mark.parametrize(("said", "status"), [
    ({"signs": ["night"], "region": []}, 200), ({"region": "L-heel"}, 422), ({"feels": "dull", "region": []}, 422),
    ({"feels": ["dull", "swollen"], "signs": ["snap", "unwell"]}, 200), ({"feels": "dull", "signs": "none"}, 422),
])
def test_a_sign_alone_is_enough_and_otherwise_a_place_and_a_feeling_are(as_teacher, cast, said, status):
    assert send(as_teacher, cast, **said).status_code == status
    assert PainReport.objects.count() == (status == 200)


@pytest.mark.parametrize(("seconds_ago", "stopped", "is_cut_short"), [
    (599, "exercise", True), (601, "exercise", False), (5, "class", True), (5, "changed", False), (5, "", False),
])
def test_a_count_kept_just_before_is_the_one_that_the_pain_cut_short(
    as_teacher, cast, seconds_ago, stopped, is_cut_short
):
    """That ten minutes is just before: the studio's own rule."""
    result = ResultFactory(
        screening=cast.screening, student=cast.ama, measure=cast.rises, side="L",
        protocol=cast.rises.protocols.get(), by=cast.teacher,
    )
    Result.objects.filter(pk=result.pk).update(tapped_at=timezone.now() - dt.timedelta(seconds=seconds_ago))
    send(as_teacher, cast, feels="dull", stopped=stopped, at_count="5")
    row = PainReport.objects.get()
    assert (row.stopped_result, row.at_count) == (result if is_cut_short else None, 5)


@pytest.mark.parametrize(("feels", "chosen"), [("sharp", ""), ("dull", 8)])
def test_nobody_is_in_full_class_again_after_a_stop_sign_because_nobody_chose(as_teacher, cast, feels, chosen):
    # An ache that new work brings is asked about, and need not be chosen a step for.
    for days_ago in (2, 0) if feels == "dull" else (0,):
        report(cast, feels=[feels], days_ago=days_ago, places=["L-calf", "R-calf"], intensity=2)
    closing = as_teacher.get(f"/follow-ups/{FollowUp.objects.get().pk}/close/").context["close_form"]
    assert closing["step"].initial == chosen


def test_the_follow_up_says_what_each_report_said(cast, as_teacher):
    report(cast, intensity=6, days_ago=1)
    taken_back = report(cast, feels=["numb"], places=["R-heel"])
    take_back_report(report=taken_back, by=cast.teacher, on=cast.screening.held_on)
    page = as_teacher.get(reverse("progress:follow-up", args=[FollowUp.objects.get().pk])).content.decode()
    said = re.findall(r'<span class="soft">([^<]+)</span>\s*<a [^>]+/barre/pain/\d+/">\s*([^<]+?)\s*<', page)
    assert sorted(said) == [
        ("23 March", "Sharp, pin-point, left Achilles, 6 of 10"),
        ("24 March", "Numb or tingling, right heel (tapped by mistake)"),
    ]


def test_pain_given_as_the_reason_on_a_page_without_script_is_kept_and_asked_about(as_teacher, cast):
    sheet = f"/barre/screenings/{cast.screening.pk}/rises/"
    answer = as_teacher.post(
        sheet + "missing/", {"key": str(uuid.uuid4()), "student": cast.ama.pk, "reason": Result.PAIN}
    )
    assert answer.url == f"/barre/screenings/{cast.screening.pk}/hurts/{cast.ama.pk}/?measure=rises"
    assert {row.reason_missing for row in Result.objects.in_force()} == {Result.PAIN}
