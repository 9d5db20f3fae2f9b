"""What every answer carries, whatever kind of answer it is: the content policy, no keeping, guarded cookies."""
import re

import pytest
from django.test import Client, override_settings
from django.urls import reverse

from progress.models import FollowUp
from studio.models import Student, User
from tests.conftest import PASSWORD
from tests.doors import furnish
from tests.reading import words_of

POLICY = (
    "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'"
)
EVERYWHERE = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": (
        "screen-wake-lock=(self), accelerometer=(), camera=(), display-capture=(), geolocation=(), "
        "gyroscope=(), hid=(), magnetometer=(), microphone=(), midi=(), payment=(), publickey-credentials-get=(), "
        "serial=(), usb=()"
    ),
}


@pytest.fixture
def answers(as_teacher, cast, monkeypatch):
    """One answer of every kind, by what it is."""
    furnish(cast)
    student = reverse("progress:student", args=[cast.ama.pk])
    closing = reverse("progress:close-follow-up", args=[FollowUp.objects.filter(student=cast.ama).first().pk])
    found = {
        "page": as_teacher.get(student),
        "part": as_teacher.get(closing, headers={"HX-Request": "true"}),
        "figures": as_teacher.get(reverse("progress:chart-figure", args=[cast.ama.pk, "rises"])),
        "wrong form": as_teacher.post("/account/", {"x": "1"}),
        "not allowed": as_teacher.get(reverse("studio:office")),
        "not there": as_teacher.get("/nothing/"),
        "wrong method": as_teacher.delete("/"),
        "bad question": as_teacher.get("/?x=%00"),
        "strange host": as_teacher.get("/", headers={"host": "example.org"}),
        "redirect": as_teacher.post(reverse("progress:close-screening", args=[cast.screening.pk])),
        "entrance": Client().get("/login/"),
        "sent to the entrance": Client().get(student),
        "part for nobody": Client().get(student, headers={"HX-Request": "true"}),
        "without token": Client(enforce_csrf_checks=True).post("/login/", {}),
    }
    monkeypatch.setattr("progress.views.today.today_rows", lambda *_: 1 / 0)
    as_teacher.raise_request_exception = False
    found["failure"] = as_teacher.get("/")
    return found


def test_each_kind_of_answer_is_of_its_kind(answers):
    assert {what: answer.status_code for what, answer in answers.items()} == {
        "page": 200, "part": 200, "figures": 200, "wrong form": 422, "not allowed": 403, "not there": 404,
        "wrong method": 405, "bad question": 400, "strange host": 400, "redirect": 302, "entrance": 200,
        "sent to the entrance": 302, "part for nobody": 401, "without token": 403, "failure": 500,
    }


def test_every_answer_carries_the_policy_and_the_guards(answers):
    lacking = {
        f"{what}: {name}": answer.headers.get(name)
        for what, answer in answers.items() for name, value in EVERYWHERE.items() if answer.headers.get(name) != value
    }
    assert lacking == {}


def test_no_answer_about_the_studio_is_kept_by_a_browser_or_on_the_way(answers):
    kept = {
        what: answer.headers.get("Cache-Control") for what, answer in answers.items()
        if "no-store" not in answer.headers.get("Cache-Control", "")
    }
    assert kept == {}


def test_pages_and_their_parts_vary_so_that_back_never_shows_a_bare_part(answers):
    for what in ("page", "part"):
        assert {"HX-Request", "Cookie"} <= set(re.split(r",\s*", answers[what].headers["Vary"]))


def test_only_htmx_gets_a_part_and_back_gets_the_page(as_teacher, cast):
    path = reverse("progress:close-follow-up", args=[furnish(cast)["follow_up_id"]])
    restored = {"HX-Request": "true", "HX-History-Restore-Request": "true"}
    answers = [as_teacher.get(path, headers=headers) for headers in ({}, {"HX-Request": "true"}, restored)]
    assert [b"<html" in answer.content for answer in answers] == [True, False, True]


def test_no_error_shows_how_the_house_is_built(answers):
    for what in ("failure", "not there", "strange host", "bad question", "without token"):
        words = answers[what].content.decode()
        assert not re.search(r"Traceback|ZeroDivision|progress\.views|settings|DisallowedHost|Django", words), what


def test_no_error_names_anybody(answers, cast):
    """Neither a child nor whoever is logged in: such a page is photographed and sent around."""
    people = [*Student.objects.values_list("name", flat=True), *User.objects.values_list("name", flat=True)]
    words = {word for name in people for word in name.split()}
    wrong = ("not allowed", "not there", "wrong method", "strange host", "bad question", "without token", "failure")
    for what in wrong:
        text = words_of(answers[what])
        assert (what, sorted(word for word in words if word in text)) == (what, [])


def test_no_answer_names_its_server(answers):
    assert {answer.headers.get("Server") for answer in answers.values()} == {None}


# --- cookies -------------------------------------------------------------------------------------


def cookies_of(client):
    client.get("/login/")
    client.post("/login/", {"username": "davit", "password": PASSWORD}, secure=True)
    return client.cookies


def test_the_session_is_out_of_reach_of_scripts_and_ends_after_a_day_of_classes(cast, client):
    session = cookies_of(client)["sessionid"]
    assert session["httponly"] is True
    assert session["samesite"] == "Lax"
    assert session["max-age"] == 12 * 60 * 60


def test_no_cookie_can_be_read_by_a_script(cast, client):
    """The pages carry the token themselves, so no script has to read a cookie."""
    cookies = cookies_of(client)
    assert set(cookies) == {"sessionid", "csrftoken"}
    assert {name: morsel["httponly"] for name, morsel in cookies.items()} == {"sessionid": True, "csrftoken": True}


@override_settings(SESSION_COOKIE_SECURE=True, CSRF_COOKIE_SECURE=True)
def test_behind_tls_no_cookie_travels_in_the_open(cast, client):
    assert {morsel["secure"] for morsel in cookies_of(client).values()} == {True}


def test_nobody_gets_a_cookie_before_she_sends_a_form(cast, client):
    client.get(reverse("progress:today"))
    assert "sessionid" not in client.cookies
