"""Whatever ends an account ends its visits and its PIN; nobody locks herself out by a new password."""
import pytest
from django.test import Client
from django.urls import reverse

from studio.entrance.actions import enrol_tablet, set_pin
from studio.entrance.keys import Pin, Visit
from studio.models import Deed
from tests.conftest import PASSWORD
from tests.reading import words_of
from tests.test_access import entered


def edit(client, person, **fields):
    typed = {"name": person.name, "username": person.username, "role": person.role, "email": "", "is_active": "on"}
    typed = {name: value for name, value in {**typed, **fields}.items() if value is not None}
    return client.post(reverse("studio:edit-person", args=[person.pk]), typed)


def test_the_visits_of_an_account_that_ended_do_not_live_on(as_owner, cast):
    theirs = entered(cast, "teacher")
    set_pin(person=cast.teacher, pin="730254")
    assert edit(as_owner, cast.teacher, is_active=None).status_code == 302
    assert not Visit.objects.filter(person=cast.teacher).exists() and not Pin.objects.exists()
    edit(as_owner, cast.teacher)
    assert theirs.get("/").headers["Location"] == "/login/?next=/"
    assert Deed.objects.filter(row_key=cast.teacher.pk, what=Deed.CHANGED, by=cast.owner).count() == 2


def test_a_pin_of_an_account_that_ended_opens_no_tablet_when_it_is_opened_again(as_owner, cast, settings):
    _tablet, token = enrol_tablet(name="Tablet by the window", by=cast.owner)
    set_pin(person=cast.teacher, pin="730254")
    edit(as_owner, cast.teacher, is_active=None)
    edit(as_owner, cast.teacher)
    tablet = Client()
    tablet.cookies[settings.TABLET_COOKIE_NAME] = token
    assert tablet.post("/login/pin/", {"person": cast.teacher.pk, "pin": "730254"}).status_code == 422


def test_another_role_is_come_in_with_anew_and_another_name_is_not(as_owner, cast):
    theirs = entered(cast, "teacher")
    edit(as_owner, cast.teacher, name="Davit M.")
    assert theirs.get("/").status_code == 200
    edit(as_owner, cast.teacher, role="owner")
    assert theirs.get("/").status_code == 302


def test_the_owner_does_not_lock_herself_out_with_a_new_password(as_owner, cast):
    before = cast.owner.password
    answer = as_owner.post(reverse("studio:give-password", args=[cast.owner.pk]), follow=True)
    cast.owner.refresh_from_db()
    assert cast.owner.password == before and "where the new one is typed" in words_of(answer)
    assert Client().post("/login/", {"username": "ottoline", "password": PASSWORD}).status_code == 302


@pytest.mark.parametrize("who", ["teacher", "other_teacher"])
def test_a_new_password_ends_the_visits_of_before(as_owner, cast, who):
    theirs = entered(cast, who)
    as_owner.post(reverse("studio:give-password", args=[getattr(cast, who).pk]))
    assert theirs.get("/").status_code == 302
    assert not Visit.objects.filter(person=getattr(cast, who)).exists()
