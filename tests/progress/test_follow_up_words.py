"""The follow-up list: the most urgent first, words that are true on the day they are read, and who at home knows."""
import datetime as dt
import re
import uuid

import pytest
from django.utils import timezone

from progress.actions import answering, follow_ups
from progress.actions.pain import report_pain, take_back_report
from progress.models import FollowUp, FollowUpNote, HomeTold, PainAnswer
from progress.queries.follow_ups import follow_up_rows, grouped
from studio.actions import Refused
from studio.entrance.keys import Visit
from studio.models import Guardian

DAY = dt.timedelta(days=1)


def hurts(cast, student=None, *, feels=("dull",), places=("L-heel",), days_ago=0, intensity=None):
    return report_pain(
        key=uuid.uuid4(), student=student or cast.ama, class_group=cast.class_group, screening=None, measure=None,
        places=list(places), feels=list(feels), intensity=intensity, stopped="", note="",
        reported_on=cast.screening.held_on - days_ago * DAY, by=cast.teacher,
    )


def rows(cast, today=None):
    return follow_up_rows(
        FollowUp.objects.all(), term=cast.term, today=today or cast.screening.held_on, now=timezone.now()
    )


def words_of(page) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page.content.decode()).split())


# --- order ----------------------------------------------------------------------------------------------------------


def test_a_doctor_today_stands_before_stop_signs_the_head_first_whatever_is_due(cast):
    hurts(cast, cast.other_student, feels=["sharp"], days_ago=9)
    hurts(cast, cast.bettina, feels=["limps"], days_ago=2)
    hurts(cast, cast.ama, places=["head"])
    hurts(cast, cast.out_of_reach)
    assert [row.follow_up.student.first_name for row in rows(cast)] == ["Ama", "Bettina", "Greta", "Zuzanna"]
    assert [key for key, _words, _rows in grouped(rows(cast))] == ["doctor_today", "stop_sign", "pain_watched"]


def test_within_a_group_the_earliest_due_comes_first(cast):
    hurts(cast, cast.ama, feels=["sharp"])
    hurts(cast, cast.bettina, feels=["sharp"], days_ago=1)
    assert [row.follow_up.student.first_name for row in rows(cast)] == ["Bettina", "Ama"]


# --- words ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("later", "words"), [
    (0, "Twice in 8 days."), (1, "Twice: on 17 March and on 24 March."), (35, "Twice: on 17 March and on 24 March."),
])
def test_how_often_it_hurt_is_true_on_the_day_it_is_read(cast, later, words):
    for days_ago in (7, 0):
        hurts(cast, days_ago=days_ago)
    why = rows(cast, cast.screening.held_on + later * DAY)[0].why
    assert words in why and "last 8" not in why


def test_days_of_another_pain_are_not_counted_in(cast):
    hurts(cast, feels=["sharp"], places=["R-knee"], days_ago=3)
    hurts(cast, feels=["sharp"])
    assert "Twice" not in rows(cast)[0].why


def test_what_is_to_be_seen_says_why(cast):
    for days_ago in (7, 0):
        hurts(cast, days_ago=days_ago)
    assert "A health professional should see it: it has come back." in rows(cast)[0].why


def test_another_day_is_no_handing_over(cast):
    hurts(cast)
    row = FollowUp.objects.get()
    follow_ups.hand_over(follow_up=row, acts=row.acts, due_on=row.due_on + DAY, by=cast.owner)
    assert [note.kind for note in row.notes.all()] == [FollowUpNote.MOVED]
    follow_ups.hand_over(follow_up=row, acts=cast.owner, due_on=row.due_on + DAY, by=cast.owner)
    assert [note.kind for note in row.notes.all()] == [FollowUpNote.MOVED, FollowUpNote.HANDED_OVER]
    assert rows(cast)[0].done == []


def test_the_day_of_a_stop_sign_is_put_off_with_a_reason_only(cast):
    hurts(cast, feels=["sharp"])
    row = FollowUp.objects.get()
    moved = {"follow_up": row, "acts": row.acts, "due_on": row.due_on + DAY, "by": cast.teacher}
    with pytest.raises(Refused, match="reason"):
        follow_ups.hand_over(**moved)
    follow_ups.hand_over(why="The practice is shut today.", **moved)
    assert "The practice is shut today." in row.notes.get().text
    follow_ups.hand_over(**moved | {"due_on": row.due_on})


def test_the_page_asks_for_the_reason_and_keeps_what_was_typed(as_teacher, cast):
    hurts(cast, feels=["sharp"])
    row = FollowUp.objects.get()
    typed = {"acts": cast.teacher.pk, "due_on": str(row.due_on + 7 * DAY), "why": ""}
    page = as_teacher.post(f"/follow-ups/{row.pk}/hand-over/", typed)
    assert page.status_code == 422 and "give a reason" in words_of(page)


# --- a mistaken tap -------------------------------------------------------------------------------------------------


def test_a_mistaken_tap_takes_away_what_it_made_graver(cast):
    hurts(cast)
    row = hurts(cast, feels=["sharp"])
    assert FollowUp.objects.get().kind == FollowUp.STOP_SIGN
    take_back_report(report=row, by=cast.teacher, on=cast.screening.held_on)
    follow_up = FollowUp.objects.get()
    assert (follow_up.kind, follow_up.is_open) == (FollowUp.PAIN_WATCHED, True)


def test_a_mistaken_tap_closes_what_it_alone_opened(cast):
    row = hurts(cast, feels=["limps"])
    take_back_report(report=row, by=cast.teacher, on=cast.screening.held_on)
    assert not FollowUp.objects.get().is_open


# --- home -----------------------------------------------------------------------------------------------------------


@pytest.fixture
def mother(cast):
    guardian = Guardian.objects.create(name="Ines Owiredu", phone="+44 (0)20 5550 17")
    guardian.students.add(cast.ama)
    return guardian


def tell(client, report, **typed):
    return client.post(f"/pain/{report.pk}/told/", {"key": str(uuid.uuid4()), "way": "phone", "note": ""} | typed)


def test_the_number_stands_where_ring_home_is_said(as_teacher, cast, mother):
    report = hurts(cast, feels=["limps"])
    for path in (f"/barre/pain/{report.pk}/", f"/follow-ups/{FollowUp.objects.get().pk}/"):
        page = as_teacher.get(path)
        assert "Ines Owiredu" in words_of(page) and 'href="tel:+4402055 5017"'.replace(" ", "") in page.content.decode()


def test_nobody_told_is_said_until_somebody_was(as_teacher, cast, mother):
    report = hurts(cast, feels=["limps"])
    assert "Nobody told at home yet." in words_of(as_teacher.get("/follow-ups/"))
    tell(as_teacher, report, guardian=mother.pk, way="not_reached")
    assert "Nobody told at home yet." in words_of(as_teacher.get("/follow-ups/"))
    tell(as_teacher, report, guardian=mother.pk, note="fetches her at six")
    page = words_of(as_teacher.get("/follow-ups/"))
    assert "Nobody told" not in page and "Told at home: Ines Owiredu, by telephone, 24 March." in page
    assert [(row.who, row.way, row.by) for row in HomeTold.objects.all()] == [
        ("Ines Owiredu", "not_reached", cast.teacher), ("Ines Owiredu", "phone", cast.teacher),
    ]


def test_a_new_report_asks_to_tell_home_again(as_teacher, cast, mother, time_machine):
    tell(as_teacher, hurts(cast), guardian=mother.pk)
    time_machine.shift(3600)
    hurts(cast, feels=["sharp"])
    assert "Nobody told at home yet." in words_of(as_teacher.get("/follow-ups/"))


def test_the_same_tap_twice_is_told_once_and_somebody_is_named(as_teacher, cast):
    report, key = hurts(cast), str(uuid.uuid4())
    tell(as_teacher, report, who="")
    assert not HomeTold.objects.exists()
    for _again in range(2):
        tell(as_teacher, report, key=key, who="her aunt, at the door", way="in_person")
    assert HomeTold.objects.get().who == "her aunt, at the door"


# --- who may overrule -----------------------------------------------------------------------------------------------


def test_a_pin_overrules_no_doctor(as_owner, cast):
    hurts(cast, feels=["limps"])
    row = FollowUp.objects.get()
    session = as_owner.session
    session["way"] = Visit.PIN
    session.save()
    typed = {"answer": "owner", "text": "Fine again.", "step": "8", "seen": 99999999}
    page = as_owner.post(f"/follow-ups/{row.pk}/close/", typed)
    assert page.status_code == 422 and "with your password" in words_of(page)
    with pytest.raises(Refused):
        answering.answer_pain(
            follow_up=row, answer=answering.Answer(PainAnswer.OWNER, "Fine.", 8), closed_on=cast.screening.held_on,
            by=cast.owner, by_pin=True,
        )
    session["way"] = Visit.PASSWORD
    session.save()
    assert as_owner.post(f"/follow-ups/{row.pk}/close/", typed).status_code == 302


def test_the_page_says_from_when_on_a_teacher_may_settle_it(as_teacher, cast):
    hurts(cast, feels=["sharp"], intensity=7)
    page = as_teacher.get(f"/follow-ups/{FollowUp.objects.get().pk}/close/")
    assert "From 25 March on you can close this yourself" in words_of(page)
    assert 'value="teacher"' not in page.content.decode() and 'value="mistake"' in page.content.decode()
