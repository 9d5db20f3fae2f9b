"""Guessing, replaying, swapping and forging: each try is refused, and each stands in the audit as refused of whom."""
import datetime as dt

import pytest
from django.core.cache import cache
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django_otp.plugins.otp_static.models import StaticDevice
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.audit.middleware import MOST_REFUSALS
from studio.audit.models import AuditRow
from studio.entrance.actions import enrol_tablet, set_pin
from studio.entrance.second_factor import make_recovery_codes
from studio.models import Studio
from tests.conftest import PASSWORD
from tests.doors import DOORS, NOBODY, OPEN, OPEN_TO_NOBODY, PEOPLE, address, as_get, furnish
from tests.studio.test_second_factor import KEY, code_now
from tests.test_access import entered

ELSEWHERE = {"Origin": "https://elsewhere.example"}
PART = {"HX-Request": "true"}


@pytest.fixture
def keys(cast):
    return furnish(cast)


def written(client, method, path, **headers) -> list[tuple]:
    """What one try left in the audit; the try itself and its row are taken back."""
    cache.clear()
    with transaction.atomic():
        before = set(AuditRow.objects.values_list("pk", flat=True))
        client.generic(method, path, b"x=1", content_type="application/x-www-form-urlencoded", headers=headers)
        rows = list(AuditRow.objects.exclude(pk__in=before).values_list("outcome", "page", "role", "person_key"))
        transaction.set_rollback(True)
    return rows


def rows(**which) -> list[tuple]:
    return list(AuditRow.objects.filter(**which).order_by("pk").values_list("outcome", "page", "role", "person_key"))


# --- every closed door ----------------------------------------------------------------------------


@pytest.mark.parametrize("headers", [{}, PART], ids=["page", "part"])
@pytest.mark.parametrize("person", [*PEOPLE, NOBODY])
def test_every_closed_door_is_written_as_refused_of_whoever_tried_it(cast, keys, person, headers):
    client, wrong = entered(cast, person), []
    known = (getattr(cast, person).role, getattr(cast, person).pk) if person != NOBODY else ("nobody", None)
    closed = (302, 403, 404) if person == NOBODY else (403, 404)
    for (method, route, whose), status in DOORS.items():
        is_entrance = person == NOBODY and (as_get(method), route) in OPEN_TO_NOBODY
        if whose == person and status in closed and not is_entrance:
            found = written(client, method, address(route, keys), **headers)
            wrong += [] if found == [("refused", route, *known)] else [(method, route, found)]
    assert wrong == []


@pytest.mark.parametrize("headers", [{}, ELSEWHERE], ids=["without a token", "from another site"])
@pytest.mark.parametrize("person", ["owner", NOBODY])
def test_every_form_that_is_forged_is_refused_and_written(cast, keys, person, headers):
    client, wrong = entered(cast, person, enforce_csrf_checks=True), []
    for route, methods in OPEN.items():
        if "POST" in methods:
            found = written(client, "POST", address(route, keys), **headers)
            wrong += [] if [row[:2] for row in found] == [("refused", route)] else [(route, found)]
    assert wrong == []


def test_whom_nobody_knows_never_changed_anything(cast, keys):
    done = {row[0] for (method, route, whose) in DOORS if whose == NOBODY
            for row in written(Client(), method, address(route, keys))}
    assert done == {"refused", "saw"}
    assert written(Client(), "POST", "/family/leave/")[0][0] == "saw"


# --- swapped numbers ------------------------------------------------------------------------------


@pytest.mark.parametrize("route", [
    "progress:student", "progress:referral-note", "progress:student-record", "progress:chart-figure",
    "studio:edit-guardian", "studio:consents", "progress:family-preview", "progress:story",
])
def test_a_swapped_number_is_written_with_the_student_who_was_asked_for(cast, keys, route):
    entered(cast, "other_teacher").get(address(route, keys), headers=PART)
    assert list(AuditRow.objects.values_list("outcome", "page", "person_key", "student_key")) == [
        ("refused", route, cast.other_teacher.pk, cast.ama.pk)
    ]


# --- passwords and codes --------------------------------------------------------------------------


def log_in(client, **how):
    return client.post("/login/", {"username": "davit", "password": PASSWORD} | how)


def test_a_right_password_that_waits_for_its_code_is_written_as_that_and_as_nothing_else(client, cast):
    TOTPDevice.objects.create(user=cast.teacher, key=KEY)
    log_in(client)
    assert rows() == [("asked", "studio:login", "nobody", cast.teacher.pk)]


def test_a_guess_while_the_name_is_locked_out_is_written_too(client, cast, settings):
    settings.AXES_ENABLED = True
    tries = settings.AXES_FAILURE_LIMIT + 2
    answers = [log_in(client, password=f"wrong {n}").status_code for n in range(tries)]
    assert answers[-1] == 429
    assert rows() == [("refused", "studio:login", "nobody", cast.teacher.pk)] * tries


def test_a_code_that_was_used_is_refused_and_written(client, cast):
    TOTPDevice.objects.create(user=cast.teacher, key=KEY)
    code = code_now()
    for browser in (client, Client()):
        log_in(browser)
        browser.post(reverse("studio:login-code"), {"code": code})
    mine = cast.teacher.pk
    assert rows() == [
        ("asked", "studio:login", "nobody", mine), ("came_in", "studio:login-code", "teacher", mine),
        ("asked", "studio:login", "nobody", mine), ("refused", "studio:login-code", "nobody", mine),
    ]


def test_a_recovery_code_that_was_used_is_refused_and_written(client, cast):
    TOTPDevice.objects.create(user=cast.teacher, key=KEY)
    code = make_recovery_codes(person=cast.teacher)[0]
    assert StaticDevice.objects.filter(user=cast.teacher).exists()
    for browser in (client, Client()):
        log_in(browser)
        browser.post(reverse("studio:login-code"), {"code": code})
    assert rows(page="studio:login-code") == [
        ("came_in", "studio:login-code", "teacher", cast.teacher.pk),
        ("refused", "studio:login-code", "nobody", cast.teacher.pk),
    ]


def test_a_code_without_a_password_before_it_is_refused_and_written(client, cast):
    assert client.post(reverse("studio:login-code"), {"code": "123456"}).status_code == 302
    assert rows() == [("refused", "studio:login-code", "nobody", None)]


@pytest.mark.parametrize("route, sent", [
    ("studio:account", {"old_password": "guess", "new_password1": "x", "new_password2": "y"}),
    ("studio:edit-pin", {"password": "guess", "pin": "4071", "pin_again": "4071"}),
    ("studio:second-factor", {"password": "guess", "code": "000000"}),
])
def test_a_wrong_password_on_ones_own_page_is_written_as_refused(as_teacher, cast, route, sent):
    assert as_teacher.post(reverse(route), sent).status_code == 422
    assert rows() == [("refused", route, "teacher", cast.teacher.pk)]


def test_an_owners_room_tried_by_pin_is_written_as_refused(client, cast):
    set_pin(person=cast.owner, pin="4071")
    _tablet, client.cookies["tablet"] = enrol_tablet(name="Tablet", by=cast.owner)
    client.post(reverse("studio:pin-login"), {"person": cast.owner.pk, "pin": "4071"})
    assert client.get(reverse("studio:office")).status_code == 302
    assert rows()[-1][:2] == ("refused", "studio:office")


def test_a_page_without_the_second_factor_that_is_wanted_is_written_as_refused(as_teacher, cast):
    Studio.objects.update(second_factor_for=Studio.EVERYBODY)
    assert as_teacher.get(reverse("progress:student", args=[cast.ama.pk])).status_code == 302
    assert rows() == [("refused", "progress:student", "teacher", cast.teacher.pk)]


# --- as much as fits ------------------------------------------------------------------------------


def test_a_flood_is_cut_off_at_the_same_row_however_many_processes_serve_it(cast):
    client = Client(enforce_csrf_checks=True)
    for n in range(MOST_REFUSALS + 20):
        if n % 30 == 0:
            # Another process knows nothing of what this one keeps in its memory.
            cache.clear()
        client.post("/login/", {"username": "davit", "password": f"guess {n}"})
    assert len(rows(outcome="refused")) == MOST_REFUSALS
    entered(cast, "teacher").get(reverse("studio:office"))
    assert rows()[-1] == ("refused", "studio:office", "teacher", cast.teacher.pk)


def test_after_a_while_refusals_are_written_again(cast, time_machine):
    client = Client(enforce_csrf_checks=True)
    for _n in range(MOST_REFUSALS + 1):
        client.post("/login/", {})
    time_machine.shift(dt.timedelta(seconds=181))
    client.post("/login/", {})
    assert len(rows()) == MOST_REFUSALS + 1
