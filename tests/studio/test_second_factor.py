"""The second factor: set up with an app, asked for at the entrance, guessed in vain, wanted by the owner of a role."""
import base64
import hashlib
import hmac
import re
import struct
import threading
import time

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from django_otp.plugins.otp_static.models import StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.entrance.actions import enrol_tablet, set_pin
from studio.entrance.keys import Visit
from studio.entrance.second_factor import RECOVERY_CODES, TooSoon, check_code, make_recovery_codes, new_key
from studio.models import Studio
from tests.conftest import PASSWORD

KEY = "3132333435363738393031323334353637383930"


def hotp(key: bytes, count: int) -> str:
    """RFC 4226, 5.3: the program that an app is."""
    digest = hmac.new(key, struct.pack(">Q", count), hashlib.sha1).digest()
    at = digest[-1] & 15
    return f"{(struct.unpack('>I', digest[at:at + 4])[0] & 0x7FFFFFFF) % 10**6:06}"


def code_now(key: str = KEY, *, later: int = 0) -> str:
    """RFC 6238 with its usual step of 30 seconds."""
    return hotp(bytes.fromhex(key), int(time.time()) // 30 + later)


def test_the_tests_own_app_makes_the_codes_of_the_standard():
    """RFC 4226, appendix D: key "12345678901234567890", counts 0 to 9."""
    codes = [hotp(bytes.fromhex(KEY), count) for count in range(10)]
    assert codes == ["755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871", "520489"]


@pytest.fixture
def davit(cast):
    """The teacher, with an app that has KEY."""
    TOTPDevice.objects.create(user=cast.teacher, key=KEY)
    return cast.teacher


def by_password(client, username="davit", **how):
    return client.post("/login/", {"username": username, "password": PASSWORD, "next": how.pop("next", "")}, **how)


def by_code(client, code, **fields):
    return client.post("/login/code/", {"code": code, **fields})


def is_in(client) -> bool:
    return "_auth_user_id" in client.session


# --- set up ----------------------------------------------------------------------------------------


def set_up(client, **fields):
    page = client.get("/account/second-factor/").content.decode()
    words = re.search(r'key-words">([A-Z2-7 ]+)<', page).group(1)
    key = base64.b32decode(words.replace(" ", "")).hex()
    return key, client.post("/account/second-factor/", {"code": code_now(key), "password": PASSWORD} | fields)


def test_an_app_that_read_the_key_sets_it_up_and_ten_recovery_codes_are_shown_once(as_teacher, cast):
    key, answer = set_up(as_teacher)
    shown = re.findall(r"<li>([a-z2-7]{8})</li>", answer.content.decode())
    assert len(set(shown)) == RECOVERY_CODES
    assert TOTPDevice.objects.get(user=cast.teacher).key == key
    assert shown[0] not in as_teacher.get("/account/second-factor/").content.decode()
    assert as_teacher.get("/").status_code == 200


@pytest.mark.parametrize("fields", [{"code": "000000"}, {"code": "12345"}, {"code": ""}, {"password": "wrong"}])
def test_without_a_fitting_code_and_the_password_nothing_is_set_up(as_teacher, cast, fields):
    assert set_up(as_teacher, **fields)[1].status_code == 422
    assert not TOTPDevice.objects.exists()
    assert by_password(Client()).headers["Location"] == "/"


def test_setting_it_up_ends_the_persons_other_visits(as_teacher, cast):
    elsewhere = Client()
    by_password(elsewhere)
    set_up(as_teacher)
    assert elsewhere.get("/").status_code == 302


def test_it_is_removed_with_the_password_only(as_teacher, davit):
    for password, left in (("wrong", True), (PASSWORD, False)):
        as_teacher.post("/account/second-factor/", {"password": password, "do": "remove"})
        assert TOTPDevice.objects.exists() is left


def test_new_recovery_codes_end_the_old_ones(as_teacher, davit):
    old = make_recovery_codes(person=davit)
    as_teacher.post("/account/second-factor/", {"password": PASSWORD, "do": "codes"})
    assert StaticToken.objects.count() == RECOVERY_CODES
    assert not StaticToken.objects.filter(token__in=old).exists()


# --- at the entrance -------------------------------------------------------------------------------


def test_the_password_alone_opens_nothing(client, davit):
    assert by_password(client, next="/follow-ups/").headers["Location"] == "/login/code/?next=%2Ffollow-ups%2F"
    assert not is_in(client)
    assert client.get("/").headers["Location"] == "/login/?next=/"


def test_the_password_and_the_code_lead_to_the_page_that_was_asked_for(client, davit):
    by_password(client)
    assert by_code(client, code_now(), next="/follow-ups/").headers["Location"] == "/follow-ups/"
    assert Visit.objects.get(person=davit).way == Visit.CODE


def test_a_code_before_the_password_opens_nothing(client, davit):
    assert by_code(client, code_now()).headers["Location"] == "/login/"
    assert not is_in(client)


def test_a_code_opens_once(client, davit):
    code = code_now()
    for browser, status in ((client, 302), (Client(), 422)):
        by_password(browser)
        assert by_code(browser, code).status_code == status


def test_each_recovery_code_opens_once(client, davit):
    code = make_recovery_codes(person=davit)[3]
    for browser, status in ((client, 302), (Client(), 422)):
        by_password(browser)
        assert by_code(browser, code.upper()).status_code == status


def test_a_password_does_not_wait_for_its_code_for_ever(client, davit, time_machine):
    by_password(client)
    time_machine.shift(5 * 60 + 1)
    assert by_code(client, code_now()).headers["Location"] == "/login/"


@pytest.mark.parametrize("change", [{"is_active": False}, {"password": "another"}])
def test_a_half_open_door_closes_when_the_account_changes(client, davit, change):
    by_password(client)
    type(davit).objects.filter(pk=davit.pk).update(**change)
    assert by_code(client, code_now()).headers["Location"] == "/login/"


def test_asking_as_the_lock_does_is_no_way_around_the_code(client, davit):
    answer = by_password(client, headers={"accept": "application/json"})
    assert answer.status_code == 422
    assert not is_in(client)


def test_an_enrolled_tablet_is_something_one_has_so_no_code_is_asked_there(client, davit, cast):
    client.cookies["tablet"] = enrol_tablet(name="Tablet", by=cast.owner)[1]
    assert by_password(client).headers["Location"] == "/"
    client.post("/lock/")
    set_pin(person=davit, pin="7302")
    assert client.post("/login/pin/", {"person": davit.pk, "pin": "7302"}).headers["Location"] == "/"


# --- guessing --------------------------------------------------------------------------------------


def test_guessing_codes_is_slowed_until_it_is_hopeless(client, davit, time_machine):
    by_password(client)
    looked_at = 0
    for n in range(300):
        looked_at += "does not fit" in by_code(client, f"{n:06}").content.decode()
        time_machine.shift(0.9)
        if n % 100 == 99:
            by_password(client)
    assert looked_at < 10
    assert not is_in(client)


def test_while_it_is_slowed_even_the_right_code_waits_and_is_told_until_when(client, davit, time_machine):
    by_password(client)
    for _n in range(3):
        by_code(client, "000000")
        time_machine.shift(4)
    by_code(client, "000000")
    assert "Wait until 17:00:" in by_code(client, code_now()).content.decode()
    time_machine.shift(60)
    assert by_code(client, code_now()).status_code == 302


def test_guessing_recovery_codes_is_slowed_too(davit):
    make_recovery_codes(person=davit)
    assert check_code(person=davit, code="aaaaaaaa") is False
    with pytest.raises(TooSoon):
        check_code(person=davit, code="bbbbbbbb")


@pytest.mark.django_db(transaction=True)
def test_one_code_sent_eight_times_at_once_opens_one_door(davit):
    code, opened = make_recovery_codes(person=davit)[0], []

    def send():
        try:
            opened.append(check_code(person=davit, code=code))
        except TooSoon:
            opened.append(False)
        connection.close()

    threads = [threading.Thread(target=send) for _n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(opened) == [False] * 7 + [True]


# --- wanted by the owner ---------------------------------------------------------------------------


@pytest.fixture
def wanted(cast):
    cast.studio.second_factor_for = Studio.EVERYBODY
    cast.studio.save()
    return cast.studio


def test_where_the_owner_wants_one_nothing_opens_before_it_is_set_up(as_teacher, wanted, cast):
    for path in ("/", "/account/", reverse("progress:student", args=[cast.ama.pk])):
        assert as_teacher.get(path).headers["Location"] == "/account/second-factor/"
    assert as_teacher.post("/account/pin/").headers["Location"] == "/account/second-factor/"
    assert as_teacher.get("/", headers={"x-outbox": "yes"}).status_code == 403
    set_up(as_teacher)
    assert as_teacher.get("/").status_code == 200


def test_where_it_is_wanted_of_owners_a_teacher_goes_on_without(as_teacher, client, wanted, cast):
    wanted.second_factor_for = Studio.OWNERS
    wanted.save()
    assert as_teacher.get("/").status_code == 200
    by_password(owner := Client(), "ottoline")
    assert owner.get("/").headers["Location"] == "/account/second-factor/"


def test_on_an_enrolled_tablet_none_is_wanted(client, wanted, cast):
    client.cookies["tablet"] = enrol_tablet(name="Tablet", by=cast.owner)[1]
    by_password(client)
    assert client.get("/").status_code == 200


# --- lost ------------------------------------------------------------------------------------------


def test_the_owner_takes_it_away_from_somebody_who_lost_her_phone(as_owner, davit, client):
    make_recovery_codes(person=davit)
    as_owner.post(reverse("studio:drop-second-factor", args=[davit.pk]))
    assert not StaticToken.objects.exists()
    assert by_password(client).headers["Location"] == "/"


def test_nobody_takes_her_own_away_without_the_password(as_owner, cast):
    TOTPDevice.objects.create(user=cast.owner, key=new_key())
    assert as_owner.post(reverse("studio:drop-second-factor", args=[cast.owner.pk])).status_code == 404
    assert TOTPDevice.objects.exists()
