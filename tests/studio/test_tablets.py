"""The shared tablet: enrolled by the owner, opened by PIN there and nowhere else, locked and ended when idle."""
import threading
from contextlib import suppress

import pytest
from django.db import connection
from django.test import Client, override_settings
from django.urls import reverse

from studio.entrance.actions import TRIES, PinRested, enrol_tablet, revoke_tablet, set_pin, try_pin
from studio.entrance.keys import Pin, PinTries, Tablet, Visit
from studio.entrance.pin_rules import weakness
from studio.models import User
from tests.conftest import PASSWORD

PIN = "7302"
COOKIE = "tablet"
BACKEND = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture
def tablet(cast):
    """A browser that the owner enrolled; nobody is in on it. Davit and Selma have PINs."""
    row, token = enrol_tablet(name="Tablet by the window", by=cast.owner)
    set_pin(person=cast.teacher, pin=PIN)
    set_pin(person=cast.other_teacher, pin="580214")
    client = Client(headers={"user-agent": "a tablet"})
    client.cookies[COOKIE] = token
    client.row = row
    return client


def by_pin(client, person, pin=PIN, **how):
    return client.post("/login/pin/", {"person": person.pk, "pin": pin, "next": how.pop("next", "")}, **how)


def by_password(client, username="davit", password=PASSWORD):
    return client.post("/login/", {"username": username, "password": password})


def who_is_in(client) -> str | None:
    key = client.session.get("_auth_user_id")
    return User.objects.get(pk=key).username if key else None


# --- enrolled and revoked --------------------------------------------------------------------------


def test_the_owner_enrols_the_browser_she_holds(as_owner, cast):
    as_owner.post("/office/tablets/", {"name": "Tablet by the window"})
    row, cookie = Tablet.objects.get(), as_owner.cookies[COOKIE]
    assert (row.name, row.enrolled_by, row.revoked_at) == ("Tablet by the window", cast.owner, None)
    assert (cookie["httponly"], cookie["samesite"], cookie["max-age"]) == (True, "Lax", 400 * 24 * 60 * 60)
    assert cookie.value not in (row.token_hash, "") and len(row.token_hash) == 64
    assert "It is enrolled as “Tablet by the window”" in as_owner.get("/office/tablets/").content.decode()


@override_settings(SESSION_COOKIE_SECURE=True)
def test_behind_tls_the_token_never_travels_in_the_open(as_owner, cast):
    as_owner.post("/office/tablets/", {"name": "Tablet"}, secure=True)
    assert as_owner.cookies[COOKIE]["secure"] is True


def test_a_browser_is_enrolled_once(as_owner, cast):
    for name in ("One", "Two"):
        as_owner.post("/office/tablets/", {"name": name})
    assert [row.name for row in Tablet.objects.all()] == ["One"]


def test_revoking_ends_every_visit_on_the_tablet_and_takes_its_pins_away(tablet, as_owner, cast):
    by_pin(tablet, cast.teacher)
    assert tablet.get("/").status_code == 200
    as_owner.post(reverse("studio:revoke-tablet", args=[tablet.row.pk]))
    assert not Visit.objects.filter(person=cast.teacher).exists()
    assert tablet.get("/").headers["Location"] == "/login/?next=/"
    assert "Davit" not in tablet.get("/login/").content.decode()
    assert by_pin(tablet, cast.teacher).status_code == 403
    row = Tablet.objects.get()
    assert row.revoked_by == cast.owner and row.revoked_at


def test_the_owner_may_revoke_the_tablet_she_holds(tablet, cast):
    by_password(tablet, "ottoline")
    assert tablet.post(reverse("studio:revoke-tablet", args=[tablet.row.pk])).status_code == 302
    assert who_is_in(tablet) is None


def test_the_first_revoking_stays_written_down(cast):
    row, _token = enrol_tablet(name="Tablet", by=cast.owner)
    for person in (cast.owner, cast.teacher):
        revoke_tablet(tablet=row, by=person)
    assert Tablet.objects.get().revoked_by == cast.owner


def test_the_list_says_when_a_tablet_was_last_seen_and_who_is_in(tablet, as_owner, cast):
    by_pin(tablet, cast.teacher)
    page = as_owner.get("/office/tablets/").content.decode()
    assert "24 March 2026, 17:00" in page
    assert '<td class="figure">1</td>' in page


# --- the PIN ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("pin, why", [
    ("1234", "runs"), ("9876", "runs"), ("789012", "runs"), ("0000", "repeats"), ("1212", "repeats"),
    ("123123", "repeats"), ("1987", "year"), ("2014", "year"), ("198712", "date"), ("121987", "date"),
    ("240314", "date"), ("032414", "date"), ("123", "shape"), ("1234567", "shape"), ("12a4", "shape"),
    ("７３０２", "shape"), ("", "shape"), ("7302", None), ("1357", None), ("58021", None), ("580214", None),
])
def test_a_pin_that_many_would_guess_first_will_not_do(pin, why):
    """`repeats`, `runs`: NIST SP 800-63B, 5.1.1.2; years and dates: common practice, no source."""
    assert weakness(pin) == why


def new_pin(client, pin=PIN, **fields):
    return client.post("/account/pin/", {"pin": pin, "pin_again": pin, "password": PASSWORD} | fields)


def test_a_pin_is_set_with_the_password_and_kept_as_an_argon2_hash(as_teacher, cast, settings):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
    cast.teacher.set_password(PASSWORD)
    cast.teacher.save()
    as_teacher.force_login(cast.teacher, backend=BACKEND)
    assert new_pin(as_teacher).status_code == 302
    assert Pin.objects.get(person=cast.teacher).hashed.startswith("argon2$argon2id$")


@pytest.mark.parametrize("fields, sentence", [
    ({"password": "wrong"}, "This is not your password."), ({"pin_again": "7303"}, "The two PINs differ."),
    ({"pin": "1234", "pin_again": "1234"}, "counts up or down"), ({"pin": ""}, "Please fill this in."),
])
def test_a_pin_that_will_not_do_is_refused_with_a_sentence_and_never_sent_back(as_teacher, cast, fields, sentence):
    answer = new_pin(as_teacher, **fields)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert f'value="{PIN}"' not in answer.content.decode()
    assert not Pin.objects.exists()


def test_the_tablet_shows_the_names_of_those_who_have_a_pin(tablet, cast):
    page = tablet.get("/login/").content.decode()
    assert [name in page for name in ("Davit Meskhi", "Selma Quist", "Ottoline")] == [True, True, False]
    User.objects.filter(pk=cast.other_teacher.pk).update(is_active=False)
    assert "Selma" not in tablet.get("/login/").content.decode()


def test_no_other_browser_is_shown_a_name(client, tablet, cast):
    client.cookies[COOKIE] = "somebody-made-this-up"
    for browser in (client, Client()):
        for path in ("/login/", "/login/pin/"):
            assert "Davit" not in browser.get(path, follow=True).content.decode()
        assert "Davit" not in by_pin(browser, cast.teacher).content.decode()


def test_the_right_pin_opens_the_tablet_at_the_page_that_was_asked_for(tablet, cast):
    assert by_pin(tablet, cast.teacher, next="/follow-ups/").headers["Location"] == "/follow-ups/"
    assert who_is_in(tablet) == "davit"
    visit = Visit.objects.get(person=cast.teacher)
    assert (visit.tablet, visit.way) == (tablet.row, Visit.PIN)


def test_a_pin_leads_nowhere_outside_the_studio(tablet, cast):
    assert by_pin(tablet, cast.teacher, next="https://example.org/").headers["Location"] == "/"


def test_a_browser_that_is_not_enrolled_takes_no_pin(client, tablet, cast):
    for other in (client, Client(), Client()):
        assert by_pin(other, cast.teacher).status_code == 403
        assert who_is_in(other) is None
    assert not PinTries.objects.exists()


def test_somebody_elses_pin_opens_nothing(tablet, cast):
    assert by_pin(tablet, cast.other_teacher).status_code == 422
    assert by_pin(tablet, cast.owner).status_code == 422
    assert who_is_in(tablet) is None


def test_a_closed_account_does_not_open_by_pin(tablet, cast):
    User.objects.filter(pk=cast.teacher.pk).update(is_active=False)
    assert by_pin(tablet, cast.teacher).status_code == 422


def test_a_visit_begun_by_pin_is_worth_nothing_in_another_browser(tablet, client, cast):
    by_pin(tablet, cast.teacher)
    client.cookies["sessionid"] = tablet.cookies["sessionid"].value
    assert client.get("/").status_code == 302


def test_without_her_pin_she_comes_in_by_password_only(tablet, as_teacher, cast):
    by_pin(tablet, cast.teacher)
    as_teacher.post("/account/pin/remove/")
    assert tablet.get("/").status_code == 302
    assert by_pin(tablet, cast.teacher).status_code == 422
    assert as_teacher.get("/").status_code == 200


# --- guessing --------------------------------------------------------------------------------------


def guess(tablet, person, times):
    return [by_pin(tablet, person, f"{8100 + n}").status_code for n in range(times)]


def test_after_five_wrong_pins_even_the_right_one_waits_for_the_password(tablet, cast):
    assert guess(tablet, cast.teacher, TRIES) == [422] * TRIES
    rested = by_pin(tablet, cast.teacher)
    assert rested.status_code == 429
    assert "Five wrong PINs" in rested.content.decode()
    assert 'value="davit"' in rested.content.decode()
    assert who_is_in(tablet) is None
    by_password(tablet)
    tablet.post("/lock/")
    assert by_pin(tablet, cast.teacher).status_code == 302


def test_a_right_pin_lets_the_count_begin_anew(tablet, cast):
    for _twice in range(2):
        guess(tablet, cast.teacher, TRIES - 1)
        assert by_pin(tablet, cast.teacher).status_code == 302
        tablet.post("/lock/")


def test_wrong_pins_of_one_person_do_not_keep_another_out(tablet, cast):
    guess(tablet, cast.teacher, TRIES)
    assert by_pin(tablet, cast.other_teacher, "580214").status_code == 302


def test_the_count_is_of_that_tablet_and_a_password_elsewhere_does_not_end_it(tablet, client, cast):
    guess(tablet, cast.teacher, TRIES)
    by_password(client)
    assert by_pin(tablet, cast.teacher).status_code == 429
    second = Client()
    second.cookies[COOKIE] = enrol_tablet(name="The other", by=cast.owner)[1]
    assert by_pin(second, cast.teacher).status_code == 302


@pytest.mark.django_db(transaction=True)
def test_forty_guesses_at_once_are_five_guesses(tablet, cast):
    looked_at = []

    def guesses():
        for n in range(5):
            with suppress(PinRested):
                looked_at.append(try_pin(tablet=tablet.row, person=cast.teacher, pin=f"{8100 + n}"))
        connection.close()

    threads = [threading.Thread(target=guesses) for _n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert looked_at == [False] * TRIES
    assert PinTries.objects.get().wrong == TRIES


def test_guessing_the_password_on_the_page_of_the_pin_is_counted_as_at_the_entrance(as_teacher, cast, settings):
    settings.AXES_ENABLED = True
    answers = [new_pin(as_teacher, password=f"wrong {n}").status_code for n in range(settings.AXES_FAILURE_LIMIT)]
    assert answers[-1] == 429
    assert new_pin(as_teacher).status_code == 429
    assert not Pin.objects.exists()


# --- idle ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", [by_pin, lambda client, _person: by_password(client)])
def test_a_visit_on_a_tablet_ends_when_nobody_was_there_for_the_owners_minutes(tablet, cast, time_machine, way):
    way(tablet, cast.teacher)
    time_machine.shift(11 * 60)
    assert tablet.get("/").status_code == 200
    time_machine.shift(13 * 60)
    assert tablet.get("/").headers["Location"] == "/login/?next=/"
    assert not Visit.objects.filter(person=cast.teacher).exists()


def test_the_owner_says_how_many_minutes(tablet, cast, time_machine):
    cast.studio.idle_minutes = 1
    cast.studio.save()
    by_pin(tablet, cast.teacher)
    time_machine.shift(4 * 60)
    assert tablet.get("/").status_code == 302


def test_a_hand_on_the_page_counts_as_being_there(tablet, cast, time_machine):
    by_pin(tablet, cast.teacher)
    for _minute in range(30):
        time_machine.shift(60)
        assert tablet.post("/still-here/").status_code == 204


def test_a_browser_that_is_not_enrolled_stays_open_for_a_day_of_classes_while_it_is_used(
    as_teacher, cast, time_machine
):
    """Between two classes there is less than an hour; a desk that was left is closed by then."""
    for _class in range(13):
        time_machine.shift(50 * 60)
        assert as_teacher.get("/").status_code == 200
    time_machine.shift(61 * 60)
    assert as_teacher.get("/").status_code == 302


def test_throwing_the_tablets_cookie_away_does_not_lengthen_a_visit(tablet, cast):
    by_password(tablet)
    del tablet.cookies[COOKIE]
    assert tablet.get("/").status_code == 302


def test_the_visit_in_which_the_browser_was_enrolled_ends_when_idle_too(as_owner, cast, time_machine):
    as_owner.post("/office/tablets/", {"name": "Tablet"})
    as_owner.get("/")
    time_machine.shift(13 * 60)
    assert as_owner.get("/").status_code == 302


# --- locked ----------------------------------------------------------------------------------------

ASKS = {"headers": {"accept": "application/json"}}


def test_locking_ends_the_visit_and_offers_the_names(tablet, cast):
    by_pin(tablet, cast.teacher)
    assert tablet.post("/lock/").headers["Location"] == "/login/"
    assert not Visit.objects.filter(person=cast.teacher).exists()
    assert "Davit" in tablet.get("/login/").content.decode()


def test_the_lock_over_a_page_is_answered_in_json(tablet, cast):
    by_pin(tablet, cast.teacher)
    assert tablet.post("/lock/", **ASKS).status_code == 204
    wrong = by_pin(tablet, cast.teacher, "8100", **ASKS)
    assert (wrong.status_code, wrong.json()) == (422, {"why": "This is not Davit’s PIN."})
    right = by_pin(tablet, cast.teacher, **ASKS)
    assert (right.status_code, right.json()["person"]) == (200, cast.teacher.pk)
    assert who_is_in(tablet) == "davit"


def test_a_visit_that_still_lasts_opens_no_lock(tablet, cast):
    by_pin(tablet, cast.teacher)
    wrong = tablet.post("/login/", {"username": "davit", "password": "wrong"}, **ASKS)
    assert wrong.status_code == 422
    assert by_pin(tablet, cast.teacher, "8100", **ASKS).status_code == 422


def test_a_page_on_the_tablet_carries_the_lock_and_elsewhere_none(tablet, as_teacher, cast):
    by_pin(tablet, cast.teacher)
    assert 'id="lock"' in tablet.get("/").content.decode()
    assert "lock.js" not in as_teacher.get("/").content.decode()


def test_switching_ends_the_first_persons_visit(tablet, cast):
    by_pin(tablet, cast.teacher)
    tablet.post("/lock/")
    by_pin(tablet, cast.other_teacher, "580214")
    assert [visit.person for visit in Visit.objects.filter(person__isnull=False)] == [cast.other_teacher]
    page = tablet.get("/").content.decode()
    assert "Selma Quist" in page and "Davit" not in page


def test_the_owners_rooms_are_opened_by_her_password_and_not_by_the_pin(tablet, cast):
    set_pin(person=cast.owner, pin="9157")
    by_pin(tablet, cast.owner, "9157")
    assert tablet.get("/").status_code == 200
    sent = tablet.get("/office/people/new/")
    assert sent.headers["Location"] == "/login/?by_password=yes&next=%2Foffice%2Fpeople%2Fnew%2F"
    assert "needs your password" in tablet.get(sent.headers["Location"]).content.decode()
    by_password(tablet, "ottoline")
    assert tablet.get("/office/people/new/").status_code == 200


def test_what_only_owners_do_is_not_done_by_a_pin(tablet, cast):
    set_pin(person=cast.owner, pin="9157")
    by_pin(tablet, cast.owner, "9157")
    before = cast.teacher.password
    tablet.post(reverse("studio:give-password", args=[cast.teacher.pk]))
    cast.teacher.refresh_from_db()
    assert cast.teacher.password == before
