"""What no form asked for, in typed values and addresses: never a crash, never a value that cannot be."""
import uuid

import pytest
from django.db import transaction
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from screening.models import Measure, Result
from studio.models import Student
from tests.doors import OPEN, address, furnish

SCRIPT = "<script>alert(1)</script>"


def typed(client, cast, value, measure="rises", **fields):
    entry = {"key": uuid.uuid4(), "student": cast.ama.pk, "side": "L", "value": value, **fields}
    path = reverse("progress:record-result", args=[cast.screening.pk, measure])
    return client.post(path, entry)


def test_an_unusual_value_is_asked_back_and_taken_once_confirmed(as_teacher, cast):
    asked = typed(as_teacher, cast, "120")
    assert asked.status_code == 422
    assert "120 rises: sure?" in asked.content.decode()
    assert not Result.objects.exists()
    assert typed(as_teacher, cast, "120", confirmed="on").status_code == 302
    assert Result.objects.get().is_confirmed


def test_an_impossible_value_is_refused_even_when_confirmed_and_stays_typed(as_teacher, cast):
    refused = typed(as_teacher, cast, "999", confirmed="on")
    assert refused.status_code == 422
    assert "999 is not possible: from 0 to 200." in refused.content.decode()
    assert 'value="999"' in refused.content.decode()
    assert not Result.objects.exists()


@pytest.mark.parametrize("value", [
    "twelve", "", " ", "-3", "−3", "14.5", "14,5", "1e3", "NaN", "nan", "Infinity", "-inf", "0x0e", "1_000", "١٤",
    "9" * 20, "9" * 6000, "14\x00", "14; DROP TABLE", "1 4", "½", "--4", ".", ",",
])
def test_what_is_no_count_is_refused_with_a_sentence_and_nothing_is_kept(as_teacher, cast, value):
    answer = typed(as_teacher, cast, value)
    assert answer.status_code == 422
    assert answer.content
    assert not Result.objects.exists()


@pytest.mark.parametrize("measure, value", [
    ("passe-balance", "12.55"), ("passe-balance", "61"), ("landing-control", "3"), ("landing-control", "-1"),
])
def test_what_another_measure_cannot_be_is_refused(as_teacher, cast, measure, value):
    assert typed(as_teacher, cast, value, measure=measure).status_code == 422
    assert not Result.objects.exists()


@pytest.mark.parametrize("value, kept", [("14", 14), (" 14 ", 14), ("0", 0), ("14.0", 14), ("75", 75)])
def test_what_is_a_count_is_kept(as_teacher, cast, value, kept):
    assert typed(as_teacher, cast, value).status_code == 302
    assert Result.objects.get().value == kept


def test_a_typed_script_comes_back_as_text(as_teacher, cast):
    page = typed(as_teacher, cast, "<b>1</b>").content.decode()
    assert "<b>1</b>" not in page
    assert "&lt;b&gt;1&lt;/b&gt;" in page


@pytest.mark.parametrize("fields", [
    {"key": "no key"}, {"key": ""}, {"key": "\x00"}, {"student": "x"}, {"student": ""}, {"side": "X"},
    {"student": "9" * 5000}, {"student": "\x00"},
])
def test_a_key_that_is_none_leads_back_to_the_sheet_and_keeps_nothing(as_teacher, cast, fields):
    assert typed(as_teacher, cast, "14", **fields).status_code in (302, 404, 422)
    assert not Result.objects.exists()


@pytest.mark.parametrize("student", ["999999", "9" * 30, "-1", "0"])
def test_a_student_who_is_not_there_is_not_found(as_teacher, cast, student):
    assert typed(as_teacher, cast, "14", student=student).status_code == 404


def test_scripts_in_every_name_stay_text_in_the_drawings_and_everywhere(as_owner, cast):
    """The drawings are put into the page as they are, so every word in them must come escaped."""
    keys = furnish(cast)
    Student.objects.filter(pk=cast.ama.pk).update(name=f"Ama {SCRIPT}", called="<b>Ama")
    cast.ama.guardians.update(name=SCRIPT)
    Measure.objects.filter(pk=cast.rises.pk).update(name="<i>Rises", short_name="<i>rises", unit="<u>")
    cast.rises.protocols.update(short_name="<i>heel", instruction=SCRIPT)
    type(cast.teacher).objects.update(name=SCRIPT)
    cast.class_group.__class__.objects.filter(pk=cast.class_group.pk).update(name="<b>Pre")
    for route, methods in OPEN.items():
        if "GET" in methods and route != "studio:login":
            answer = as_owner.get(address(route, keys))
            page = answer.content.decode() if "html" in answer.headers["Content-Type"] else ""
            shown = [bad for bad in (SCRIPT, "<i>", "<u>", "<b>") if bad in page]
            assert (route, shown) == (route, [])


# --- anything at all -----------------------------------------------------------------------------

FIELDS = (
    "acts", "answer", "attempts", "basis", "battery", "beats_per_minute", "birth_on", "cap", "class_group",
    "classes_per_week", "confirmed", "corrects", "digest", "due_on", "email", "ends_on", "faults_text", "feels",
    "first_aid_policy", "grades_text", "held_on", "instruction", "intensity", "is_active", "joined_on", "key",
    "language_code", "left_on", "measures", "moved_on", "name", "new_password1", "next", "note", "old_password",
    "order", "password", "reason", "region", "role", "score_rule", "short_name", "side", "soft_high", "soft_low",
    "stage", "starts_at", "starts_on", "stopped", "student", "take_back", "teachers", "text", "time_zone",
    "typical_error", "typical_error_basis", "typical_gain", "username", "value", "weekday", "rises-pre-pointe-value",
    "rises-pre-pointe-basis", "since", "said_by", "said_on", "allowed", "step", "move", "on", "steps",
    "words_0", "loads_0", "allows", "until_on", "see_again_on", "class_log", "guardian", "who", "way", "why",
    "approved_by", "approved_on", "height_cm", "measured_on", "height_is_right",
)
QUESTIONS = ("again", "class", "measure", "name", "next", "term", "view", "x")
NASTY = st.one_of(
    st.sampled_from([
        "", "\x00", "a\x00b", "-1", "0", "1", "9" * 25, "9" * 5000, "NaN", "Infinity", "1e400", "0.1", "x" * 5000,
        SCRIPT, "'; --", "0001-01-01", "9999-12-31", "2026-02-30", "24:61", "on", "owner", "rises", "sharp", "L",
        "L-achilles", "Europe/London", "../etc", "😀", "é" * 300,
        "00000000-0000-0000-0000-000000000001", "davit",
    ]),
    st.text(max_size=12),
    st.dates().map(str), st.integers().map(str), st.floats().map(str),
)
POSTS = sorted(route for route, methods in OPEN.items() if "POST" in methods and route != "studio:logout")
GETS = sorted(route for route, methods in OPEN.items() if "GET" in methods)
QUIET = settings(
    max_examples=40, deadline=None, derandomize=True, database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@pytest.fixture
def keys(cast):
    return furnish(cast)


def is_answered(answer) -> bool:
    return answer.status_code in (200, 302, 400, 404, 422)


@QUIET
@given(st.sampled_from(POSTS), st.dictionaries(st.sampled_from(FIELDS), NASTY, min_size=3, max_size=len(FIELDS)))
def test_no_form_breaks_whatever_is_sent(as_owner, cast, keys, route, data):
    with transaction.atomic():
        answer = as_owner.post(address(route, keys), data)
        if answer.status_code == 302:
            assert is_answered(as_owner.get("/"))
        transaction.set_rollback(True)
    assert is_answered(answer), (route, data)


@QUIET
@given(
    st.sampled_from(GETS),
    st.dictionaries(st.sampled_from(QUESTIONS), NASTY, min_size=1),
)
def test_no_page_breaks_whatever_its_address_asks(as_owner, cast, keys, route, data):
    assert is_answered(as_owner.get(address(route, keys), data)), (route, data)


@pytest.mark.parametrize("question", QUESTIONS)
def test_a_nul_in_a_question_is_no_crash(as_owner, cast, keys, question):
    """PostgreSQL refuses to look for text with a NUL in it."""
    for route in GETS:
        answer = as_owner.get(address(route, keys), {question: "a\x00b"})
        assert (route, is_answered(answer)) == (route, True)


def test_a_nul_beside_a_wrong_password_is_no_crash(client, cast, settings):
    """Failed log-ins are kept with what was sent."""
    settings.AXES_ENABLED = True
    data = {"username": "davit", "password": "wrong\x00", "next": "\x00", "other": "\x00"}
    assert is_answered(client.post("/login/?next=%00", data))
    data = {"username": "davit", "password": "wrong", "next": "\x00", "other\x00": "\x00"}
    assert is_answered(client.post("/login/?next=%00", data))


@pytest.mark.parametrize("path", [
    "/students/999999999999999999999999/", f"/students/{'9' * 5000}/", "/students/0/", "/students/-1/",
    "/barre/screenings/1/%00/", "/students/1/charts/rises%00/", "/office/measures/nothing/", "/%00",
    "/classes/1/%F0%9F/", "/office/people/999999999999999999999999/",
    "/barre/pain/999999999999999999999999/take-back/",
])
def test_an_address_that_leads_nowhere_is_not_found(as_owner, path):
    assert as_owner.get(path).status_code in (404, 405)
