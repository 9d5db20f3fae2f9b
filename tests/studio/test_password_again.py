"""What goes out of the house or cannot be taken back asks for the password; a desk that nobody touched is nobody's."""
import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from progress.actions import answering
from progress.models import FollowUp, PainAnswer
from studio.actions import Refused
from studio.entrance.keys import Visit
from studio.models import Student
from studio.permissions import PROVED_FOR
from tests.conftest import PASSWORD
from tests.progress.test_follow_up_words import hurts
from tests.reading import words_of

AN_HOUR = dt.timedelta(hours=1)


@pytest.fixture
def long_ago(as_owner, cast):
    """The owner's browser, in which the password was typed longer ago than counts."""
    Visit.objects.filter(person=cast.owner).update(began_at=timezone.now() - PROVED_FOR - dt.timedelta(seconds=1))
    return as_owner


def test_erasing_is_asked_for_the_password_and_goes_on_where_it_was(long_ago, cast):
    path = reverse("progress:erase-student", args=[cast.ama.pk])
    assert long_ago.post(path, {"name": cast.ama.name}).headers["Location"].startswith("/account/password/")
    assert Student.objects.filter(pk=cast.ama.pk).exists()
    asked = long_ago.get(path).headers["Location"]
    assert "Your password again" in words_of(long_ago.get(asked))
    wrong = long_ago.post(asked, {"password": "something else"})
    assert wrong.status_code == 422 and long_ago.get(path).status_code == 302
    assert long_ago.post(asked, {"password": PASSWORD}).headers["Location"] == path
    assert long_ago.get(path).status_code == 200


def test_a_password_typed_again_counts_for_a_while_only(long_ago, cast, time_machine):
    long_ago.post("/account/password/", {"password": PASSWORD})
    path = reverse("progress:erase-student", args=[cast.ama.pk])
    assert long_ago.get(path).status_code == 200
    time_machine.move_to(timezone.now() + PROVED_FOR + dt.timedelta(seconds=1), tick=False)
    assert long_ago.get(path).status_code == 302


def test_the_password_leads_to_no_other_site(as_owner):
    sent = as_owner.post("/account/password/", {"password": PASSWORD, "next": "https://elsewhere.example/"})
    assert sent.headers["Location"] == "/"


def test_a_page_left_open_overrules_no_doctor(long_ago, cast):
    hurts(cast, feels=["limps"])
    row = FollowUp.objects.get()
    page = long_ago.get(f"/follow-ups/{row.pk}/")
    assert "type your password again first" in words_of(page) and 'value="owner"' not in page.content.decode()
    typed = {"answer": "owner", "text": "Fine again.", "step": "8", "seen": 99999999}
    assert long_ago.post(f"/follow-ups/{row.pk}/close/", typed).status_code == 422
    with pytest.raises(Refused):
        answering.answer_pain(
            follow_up=row, answer=answering.Answer(PainAnswer.OWNER, "Fine.", 8), closed_on=cast.screening.held_on,
            by=cast.owner, by_pin=True,
        )
    long_ago.post("/account/password/", {"password": PASSWORD})
    assert long_ago.post(f"/follow-ups/{row.pk}/close/", typed).status_code == 302


def test_a_desk_that_nobody_touched_for_an_hour_is_nobodys(as_teacher, cast):
    visits = Visit.objects.filter(person=cast.teacher)
    visits.update(seen_at=timezone.now() - AN_HOUR)
    assert as_teacher.get("/").status_code == 200
    visits.update(seen_at=timezone.now() - AN_HOUR - dt.timedelta(seconds=1))
    assert as_teacher.get("/").headers["Location"] == "/login/?next=/"


def test_where_no_lock_stands_a_tap_keeps_the_visit_and_a_page_that_asks_by_itself_does_not(as_teacher, cast):
    """On an enrolled tablet the lock tells of the hand; elsewhere only what was tapped can."""
    visits = Visit.objects.filter(person=cast.teacher)
    long_since = timezone.now() - AN_HOUR / 2
    visits.update(seen_at=long_since)
    as_teacher.get("/barre/token/", headers={"X-Outbox": "yes"})
    assert visits.get().seen_at == long_since
    as_teacher.post("/barre/taps/", headers={"X-Outbox": "yes"})
    assert visits.get().seen_at == timezone.now()
