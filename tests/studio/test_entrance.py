"""The way in and out: log-in, lock-out, log-out, passwords, closed accounts, and the studio's last key."""
import re

import pytest
from django.test import Client
from django.urls import reverse

from studio.entrance.keys import Visit
from studio.models import User
from tests.conftest import PASSWORD

NEW = "a-longer-barre-2031"
WRONG = "This name and password do not belong together."


def log_in(client, username="davit", password=PASSWORD, **how):
    return client.post("/login/", {"username": username, "password": password}, **how)


@pytest.fixture
def counted(settings, cast):
    """Failed attempts are counted, as they are outside of tests."""
    settings.AXES_ENABLED = True
    return settings


def fail_until_locked(client, settings, **how):
    answers = [log_in(client, password=f"wrong {n}", **how) for n in range(settings.AXES_FAILURE_LIMIT)]
    return [answer.status_code for answer in answers]


# --- in ------------------------------------------------------------------------------------------


def test_the_right_password_leads_to_today(client, cast):
    assert log_in(client).headers["Location"] == "/"
    assert "Davit Meskhi" in client.get("/").content.decode()


def test_a_wrong_password_and_an_unknown_name_get_the_same_words(client, cast):
    wrong, unknown = log_in(client, password="wrong"), log_in(client, username="nobody")
    assert WRONG in wrong.content.decode()
    assert WRONG in unknown.content.decode()
    assert "_auth_user_id" not in client.session


def test_no_page_claims_to_have_kept_a_password(client, cast):
    assert "Only a password or PIN is typed again." in log_in(client, password="wrong").content.decode()


def test_a_login_page_with_an_old_token_comes_back_fresh_with_the_name_and_the_way_but_no_password(cast):
    client = Client(enforce_csrf_checks=True)
    old = client.get("/login/?next=/follow-ups/").context["csrf_token"]
    # Another page that was opened at the same moment has made another cookie since.
    del client.cookies["csrftoken"]
    client.get("/login/")
    typed = {"username": "davit", "password": PASSWORD, "next": "/follow-ups/"}
    again = client.post("/login/", {**typed, "csrfmiddlewaretoken": str(old)})
    page = again.content.decode()
    assert again.status_code == 403
    assert "It is fresh now: type your password once more." in page
    assert 'value="davit"' in page and 'name="next" value="/follow-ups/"' in page and PASSWORD not in page
    answer = client.post("/login/", {**typed, "csrfmiddlewaretoken": str(again.context["csrf_token"])})
    assert answer.headers["Location"] == "/follow-ups/"


def test_whoever_logs_in_comes_to_the_page_she_asked_for(client, cast):
    answer = client.post("/login/", {"username": "davit", "password": PASSWORD, "next": "/follow-ups/"})
    assert answer.headers["Location"] == "/follow-ups/"


@pytest.mark.parametrize("away", ["https://example.org/", "//example.org/", "javascript:alert(1)", "http:///example.org"])
def test_nobody_is_sent_away_from_the_studio(client, cast, away):
    answer = client.post(f"/login/?next={away}", {"username": "davit", "password": PASSWORD, "next": away})
    assert answer.headers["Location"] == "/"


def test_a_closed_account_does_not_open(client, cast):
    User.objects.filter(pk=cast.teacher.pk).update(is_active=False)
    assert WRONG in log_in(client).content.decode()


def test_logging_in_makes_a_new_session(client, cast):
    """A session prepared by somebody else is worth nothing after the log-in."""
    client.get("/login/")
    session = client.session
    session["planted"] = 1
    session.save()
    client.cookies["sessionid"] = session.session_key
    log_in(client)
    assert client.cookies["sessionid"].value != session.session_key


# --- locked out ----------------------------------------------------------------------------------


def test_after_the_limit_even_the_right_password_waits(client, counted):
    assert fail_until_locked(client, counted)[-1] == 429
    locked = log_in(client)
    assert locked.status_code == 429
    assert "_auth_user_id" not in client.session
    assert "password" in locked.content.decode().lower()


def test_one_attempt_below_the_limit_still_opens_and_counts_from_nothing_again(client, counted):
    for _twice in range(2):
        for n in range(counted.AXES_FAILURE_LIMIT - 1):
            assert log_in(client, password=f"wrong {n}").status_code == 200
        assert log_in(client).status_code == 302
        client.logout()


def test_a_lock_out_is_for_that_name_and_that_address_only(client, counted):
    fail_until_locked(client, counted, REMOTE_ADDR="10.0.0.1")
    assert log_in(Client(), REMOTE_ADDR="10.0.0.1").status_code == 429
    assert log_in(Client(), REMOTE_ADDR="10.0.0.2").status_code == 302
    assert log_in(Client(), username="ottoline", REMOTE_ADDR="10.0.0.1").status_code == 302


def test_a_lock_out_ends_by_itself(client, counted, time_machine):
    fail_until_locked(client, counted)
    time_machine.shift(counted.AXES_COOLOFF_TIME.total_seconds() + 1)
    assert log_in(client).status_code == 302


def test_guessing_at_every_name_keeps_the_studio_itself_in_no_way_out(client, counted):
    """Whoever tries from outside closes these names to herself alone."""
    staff = ("ottoline", "davit", "selma")
    for name in staff:
        for n in range(counted.AXES_FAILURE_LIMIT):
            log_in(client, username=name, password=f"wrong {n}", REMOTE_ADDR="198.51.100.7")
        assert log_in(client, username=name, REMOTE_ADDR="198.51.100.7").status_code == 429
    assert [log_in(Client(), username=name, REMOTE_ADDR="10.0.0.1").status_code for name in staff] == [302] * 3


def test_behind_a_proxy_people_are_told_apart_by_what_the_proxy_says_and_not_by_what_they_say(client, counted):
    counted.BEHIND_TLS = True
    for n in range(counted.AXES_FAILURE_LIMIT):
        log_in(client, password=f"wrong {n}", headers={"x-forwarded-for": f"10.9.9.{n}, 198.51.100.7"})
    assert log_in(Client(), headers={"x-forwarded-for": "10.0.0.1, 198.51.100.7"}).status_code == 429
    assert log_in(Client(), headers={"x-forwarded-for": "198.51.100.7, 10.0.0.1"}).status_code == 302


def test_without_a_proxy_nobody_is_believed_whence_she_comes(client, counted):
    for n in range(counted.AXES_FAILURE_LIMIT):
        log_in(client, password=f"wrong {n}", headers={"x-forwarded-for": f"10.9.9.{n}"})
    assert log_in(client, headers={"x-forwarded-for": "10.1.1.1"}).status_code == 429


# --- out -----------------------------------------------------------------------------------------


def test_logging_out_ends_the_session_and_empties_the_browsers_shelf(as_teacher, cast):
    left = as_teacher.post("/logout/")
    assert left.headers["Location"] == "/login/"
    assert left.headers["Clear-Site-Data"] == '"cache"'
    assert as_teacher.get("/").headers["Location"].startswith("/login/")
    assert not Visit.objects.exists()


def test_a_link_cannot_log_anybody_out(as_teacher, cast):
    assert as_teacher.get("/logout/").status_code == 405
    assert as_teacher.get("/").status_code == 200


# --- passwords -----------------------------------------------------------------------------------


def change(client, new, old=PASSWORD, again=None):
    data = {"old_password": old, "new_password1": new, "new_password2": new if again is None else again}
    return client.post("/account/", data)


def test_a_changed_password_keeps_this_session_and_ends_the_others(as_teacher, cast):
    elsewhere = Client()
    log_in(elsewhere)
    assert change(as_teacher, NEW).status_code == 302
    assert as_teacher.get("/").status_code == 200
    assert elsewhere.get("/").status_code == 302
    assert log_in(Client()).status_code == 200
    assert log_in(Client(), password=NEW).status_code == 302


@pytest.mark.parametrize("new, how, sentence", [
    ("short-one", {}, "at least 12 characters"),
    ("qwerty123456", {}, "too common"),
    ("123456789012345", {}, "entirely numeric"),
    ("davit-meskhi", {}, "too similar to the"),
    (NEW, {"old": "wrong"}, "old password was entered incorrectly"),
    (NEW, {"again": "another-barre-2031"}, "match"),
    (f"{NEW}\x00", {}, "There is a letter in it that we cannot store."),
])
def test_a_password_that_will_not_do_is_refused_with_a_sentence(as_teacher, cast, new, how, sentence):
    answer = change(as_teacher, new, **how)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    cast.teacher.refresh_from_db()
    assert cast.teacher.check_password(PASSWORD)


def test_guessing_the_old_password_is_counted_as_at_the_entrance(as_teacher, counted):
    answers = [change(as_teacher, NEW, old=f"wrong {n}").status_code for n in range(counted.AXES_FAILURE_LIMIT)]
    assert answers[-1] == 429
    assert change(as_teacher, NEW).status_code == 429
    assert log_in(Client(), password=NEW, REMOTE_ADDR="10.0.0.9").status_code == 200


def test_the_account_lists_where_one_is_in_and_ends_the_rest(as_teacher, cast):
    phone = Client(headers={"user-agent": "Mozilla/5.0 (iPhone; CPU iPhone OS 17_5) AppleWebKit Safari/604.1"})
    log_in(phone)
    other = Client()
    log_in(other, "selma")
    page = as_teacher.get("/account/").content.decode()
    assert "Safari, iPhone" in page and "last seen 24 March, 17:00" in page and page.count("(here)") == 1
    as_teacher.post("/account/elsewhere/")
    assert [browser.get("/").status_code for browser in (as_teacher, phone, other)] == [200, 302, 200]
    assert Visit.objects.filter(person=cast.teacher).count() == 1


def test_a_password_is_never_sent_back(as_teacher, cast):
    assert NEW not in change(as_teacher, NEW, again="other").content.decode()
    assert "wrong-secret" not in log_in(Client(), password="wrong-secret").content.decode()


# --- people --------------------------------------------------------------------------------------


def add_person(client, **fields):
    person = {"name": "Ida Holt", "username": "ida", "role": "teacher", "email": "", "password": NEW, **fields}
    return client.post(reverse("studio:add-person"), person)


def edit_person(client, person, **fields):
    data = {"name": person.name, "username": person.username, "role": person.role, "email": "", "is_active": "on"}
    data = {name: value for name, value in (data | fields).items() if value is not None}
    return client.post(reverse("studio:edit-person", args=[person.pk]), data)


def test_a_new_person_logs_in_with_her_first_password(as_owner, cast):
    assert add_person(as_owner).status_code == 302
    assert log_in(Client(), "ida", NEW).status_code == 302


@pytest.mark.parametrize("fields, sentence", [
    ({"password": "short"}, "at least 12 characters"),
    ({"username": "davit"}, "already exists"),
    ({"username": "ida holt"}, "valid username"),
    ({"role": "queen"}, "Please pick one of the list."),
    ({"name": ""}, "Please fill this in."),
])
def test_a_person_who_cannot_be_is_refused(as_owner, cast, fields, sentence):
    answer = add_person(as_owner, **fields)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not User.objects.filter(username="ida").exists()


@pytest.mark.parametrize("fields", [{"is_active": None}, {"role": "teacher"}])
def test_the_last_owner_cannot_give_her_key_away(as_owner, cast, fields):
    answer = edit_person(as_owner, cast.owner, **fields)
    assert answer.status_code == 422
    assert "at least one owner who may log in" in answer.content.decode()
    cast.owner.refresh_from_db()
    assert (cast.owner.role, cast.owner.is_active) == ("owner", True)


def test_with_a_second_owner_the_first_may_go(as_owner, cast):
    add_person(as_owner, role="owner")
    assert edit_person(as_owner, cast.owner, role="teacher").status_code == 302
    assert as_owner.get(reverse("studio:office")).status_code == 403


def test_a_closed_second_owner_does_not_count(as_owner, cast):
    User.objects.create_user("ida", name="Ida Holt", role=User.OWNER, is_active=False)
    assert edit_person(as_owner, cast.owner, role="teacher").status_code == 422


def test_closing_an_account_ends_its_open_pages_at_once(as_owner, cast):
    tablet = Client()
    log_in(tablet)
    edit_person(as_owner, cast.teacher, is_active=None)
    assert tablet.get("/").headers["Location"].startswith("/login/")


def test_the_owner_gives_a_new_password_that_works_and_is_shown_once(as_owner, cast):
    page = as_owner.post(f"/office/people/{cast.teacher.pk}/new-password/", follow=True).content.decode()
    password = re.search(r"logs in as davit with ([0-9a-f-]+)\.", page).group(1)
    cast.teacher.refresh_from_db()
    assert cast.teacher.check_password(password)
    assert password not in as_owner.get(f"/office/people/{cast.teacher.pk}/").content.decode()
