"""Every door, every method, every person; and nobody out of a teacher's reach is named to her anywhere."""
import copy
import datetime as dt
import uuid

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from progress.models import FollowUp, PainReport
from screening.models import Result
from studio.entrance.keys import Visit
from studio.models import Enrolment, User
from tests.doors import (
    DOORS,
    ENTRANCE,
    FAMILY,
    NOBODY,
    OPEN,
    OPEN_ROUTES,
    OPEN_TO_NOBODY,
    PEOPLE,
    address,
    furnish,
    routes,
)
from tests.family.conftest import family_of
from tests.progress.test_measuring import record
from tests.reading import words_of
from tests.ways_in import (
    ASKS_PASSWORD,
    BY_CODE,
    BY_LINK,
    BY_PASSWORD,
    BY_PIN,
    ENDED,
    IDLE,
    LONG_AGO,
    owner_by,
)

BACKEND = "django.contrib.auth.backends.ModelBackend"
LOGIN = "/login/"
# Everybody whom Davit, the teacher of "Pre-pointe A", has nothing to do with.
NOT_FOR_DAVIT = ("Zuzanna", "Hidden", "Greta", "Holmby")
# What the addresses of the pages understand after the question mark.
QUESTIONS = {
    "progress:class-sheet": ("?measure=rises",), "progress:sheet": ("?again=cell-1-L",),
    "progress:student": ("?term=1",), "progress:student-work": ("?term=1",),
    "progress:chart-figure": ("?term=1",), "progress:results": ("?measure=rises",),
    "progress:pain-next-step": ("?log=1", "?log=2"),
    "progress:class-log": ("?on=2026-03-17", "?exercise=short-foot&student=1"),
    "progress:follow-ups": ("?view=mine", "?view=closed"), "progress:report-pain": ("?measure=rises",),
    "studio:bring-roster": ("?class=1",),
}


@pytest.fixture
def keys(cast):
    return furnish(cast)


def entered(cast, person, **how) -> Client:
    client = Client(**how)
    if person != NOBODY:
        client.force_login(getattr(cast, person), backend=BACKEND)
    return client


def knock(client, method, path, **headers):
    """The answer; whatever it wrote is taken back, so that the next door finds the house as it was."""
    cookies = copy.deepcopy(client.cookies)
    with transaction.atomic():
        answer = client.generic(
            method, path, b"csrfmiddlewaretoken=x" if method != "GET" else b"",
            content_type="application/x-www-form-urlencoded", **headers,
        )
        transaction.set_rollback(True)
    client.cookies = cookies
    return answer


@pytest.mark.parametrize("person", [*PEOPLE, NOBODY])
def test_each_door_opens_to_whom_the_table_says_and_to_nobody_else(cast, keys, person):
    client, wrong = entered(cast, person), []
    for (method, route, whose), status in DOORS.items():
        if whose == person:
            found = knock(client, method, address(route, keys)).status_code
            if found != status:
                wrong.append(f"{method} {route}: {found}, not {status}")
    assert wrong == []


def came_in(cast, way) -> Client:
    """The owner's browser, who came in this way."""
    if way == BY_LINK:
        return family_of(cast, cast.ama).client
    client, now = entered(cast, "owner"), timezone.now()
    session = client.session
    session["way"] = way if way in (BY_CODE, BY_PIN) else BY_PASSWORD
    session.save()
    ago = {LONG_AGO: dt.timedelta(hours=1), IDLE: dt.timedelta(hours=2)}.get(way, dt.timedelta())
    Visit.objects.filter(person=cast.owner).update(began_at=now - ago, seen_at=now - (ago if way == IDLE else ago * 0))
    if way == ENDED:
        User.objects.filter(pk=cast.owner.pk).update(is_active=False)
    return client


@pytest.mark.parametrize("way", [
    BY_PIN, LONG_AGO, *(pytest.param(way, marks=pytest.mark.thorough) for way in (BY_CODE, IDLE, ENDED, BY_LINK)),
])
def test_each_door_opens_to_each_way_of_coming_in_as_the_table_says(cast, keys, way):
    client, wrong = came_in(cast, way), []
    for method, route, whose in DOORS:
        if whose == "owner" and method in ("GET", "POST"):
            found, said = knock(client, method, address(route, keys)), owner_by(way, method, route)
            if found.status_code != said:
                wrong.append(f"{method} {route}: {found.status_code}, not {said}")
            if way == LONG_AGO and route in ASKS_PASSWORD and said == 302:
                assert found.headers["Location"].startswith("/account/password/")
    assert wrong == []


def test_every_route_of_the_house_stands_in_the_table():
    assert set(routes()) == set(OPEN) | set(FAMILY)


def test_the_table_names_every_method_that_a_route_takes(cast, keys):
    client = entered(cast, "owner")
    for route, methods in OPEN.items():
        if route not in ENTRANCE:
            assert (route, allowed_by(client, address(route, keys))) == (route, with_head(methods))
    for route in ENTRANCE:
        allowed = with_head(method for method, which in OPEN_TO_NOBODY if which == route)
        assert (route, allowed_by(entered(cast, NOBODY), address(route, keys))) == (route, allowed)


def with_head(methods) -> set[str]:
    found = set(methods)
    return found | {"HEAD"} if "GET" in found else found


def test_a_head_says_what_a_get_says_and_nothing_after_it(cast, keys):
    """RFC 9110, 9.3.2: the same fields as for GET, no content."""
    client = entered(cast, "owner")
    for route in ("progress:student", "progress:student-record", "progress:term-results", "progress:worker"):
        got, told = (knock(client, method, address(route, keys)) for method in ("GET", "HEAD"))
        fields = ("Content-Type", "Content-Disposition", "Cache-Control", "Vary")
        assert (told.status_code, told.content) == (got.status_code, b"")
        assert [told.headers.get(name) for name in fields] == [got.headers.get(name) for name in fields]
        assert int(told.headers["Content-Length"]) == len(got.content)


def allowed_by(client, path):
    """The methods that the route itself names when it refuses one."""
    return {method.strip() for method in knock(client, "DELETE", path).headers["Allow"].split(",")}


def test_nobody_is_sent_to_the_entrance_and_back_to_the_page_that_was_asked_for(cast, keys):
    client = entered(cast, NOBODY)
    for route, methods in OPEN.items():
        path = address(route, keys)
        if route not in OPEN_ROUTES and "GET" in methods:
            assert knock(client, "GET", path).headers["Location"] == f"{LOGIN}?next={path}"


def test_after_a_form_nobody_comes_back_to_a_page_and_not_to_the_form(cast, keys):
    """The address of a form is no page: logging in would end at a refusal."""
    client = entered(cast, NOBODY)
    for route, methods in OPEN.items():
        if route not in ENTRANCE and "POST" in methods:
            assert knock(client, "POST", address(route, keys)).headers["Location"] == f"{LOGIN}?next=/"


def test_a_part_is_never_answered_with_the_entrance(cast, keys):
    """The login page would land inside a cell of the sheet; the page reloads itself on 401."""
    client = entered(cast, NOBODY)
    for route, methods in OPEN.items():
        if route not in OPEN_ROUTES:
            for method in methods:
                answer = knock(client, method, address(route, keys), headers={"HX-Request": "true"})
                assert (route, answer.status_code, answer.content) == (route, 401, b"")


@pytest.mark.parametrize("person", ["owner", NOBODY])
def test_every_form_without_its_token_is_refused(cast, keys, person):
    client = entered(cast, person, enforce_csrf_checks=True)
    for route, methods in OPEN.items():
        if "POST" in methods:
            answer = knock(client, "POST", address(route, keys))
            assert (route, answer.status_code) == (route, 403)
            assert b"log in" in answer.content.lower() or b"page" in answer.content.lower()


def test_a_person_whose_account_was_closed_meanwhile_is_nobody(cast, keys):
    client = entered(cast, "teacher")
    cast.teacher.is_active = False
    cast.teacher.save()
    assert knock(client, "GET", address("progress:student", keys)).headers["Location"].startswith(LOGIN)


# --- who is named to whom ------------------------------------------------------------------------


def answers_to(client, keys):
    """Every answer of every door, as page and as part, with every question an address understands."""
    for route, methods in OPEN.items():
        path = address(route, keys)
        for headers in ({}, {"HX-Request": "true"}):
            for question in ("", *QUESTIONS.get(route, ())) if "GET" in methods else ():
                yield f"GET {route}{question}", knock(client, "GET", path + question, headers=headers)
            if "POST" in methods and route not in ("studio:logout", "studio:lock"):
                with transaction.atomic():
                    yield f"POST {route}", client.post(path, {"x": "1"}, headers=headers, follow=True)
                    transaction.set_rollback(True)


def names_in(answer, names):
    return [name for name in names if name in words_of(answer)]


def test_nobody_out_of_reach_is_named_to_a_teacher(cast, keys):
    for where, answer in answers_to(entered(cast, "teacher"), keys):
        assert (where, names_in(answer, NOT_FOR_DAVIT)) == (where, [])


def test_the_owner_is_told_of_everybody_so_the_names_are_there_to_be_found(cast, keys):
    told = set()
    for _where, answer in answers_to(entered(cast, "owner"), keys):
        told.update(names_in(answer, NOT_FOR_DAVIT))
        if told == set(NOT_FOR_DAVIT):
            return
    raise AssertionError(f"told of {told} only")


def test_what_is_out_of_reach_is_refused_without_its_name(cast, keys):
    """The same doors with the keys of another teacher's class; one look behind the keys of Ama's class is enough."""
    client = entered(cast, "other_teacher")
    for where, answer in answers_to(client, keys):
        assert (where, names_in(answer, ("Ama", "Owiredu", "Zuzanna"))) == (where, [])


def test_a_student_who_went_to_another_class_is_out_of_her_old_teachers_reach(cast, keys):
    enrolment = Enrolment.objects.get(student=cast.ama)
    enrolment.left_on = cast.screening.held_on
    enrolment.save()
    for route in ("progress:student", "progress:results", "progress:follow-up", "progress:pain-next-step"):
        assert knock(entered(cast, "teacher"), "GET", address(route, keys)).status_code == 404


# --- keys smuggled in by a form ------------------------------------------------------------------


def sent(cast, route, data, **kwargs):
    return entered(cast, "teacher").post(reverse(route, kwargs=kwargs), data)


def test_a_result_cannot_be_recorded_for_a_student_out_of_reach(cast, keys):
    before = Result.objects.count()
    entry = {"key": uuid.uuid4(), "student": cast.out_of_reach.pk, "side": "L", "value": "14"}
    answer = sent(cast, "progress:record-result", entry, screening_id=cast.screening.pk, measure_key="rises")
    assert (answer.status_code, Result.objects.count()) == (404, before)


def test_a_reason_cannot_be_recorded_for_a_student_out_of_reach(cast, keys):
    before = Result.objects.count()
    entry = {"key": uuid.uuid4(), "student": cast.out_of_reach.pk, "reason": "absent"}
    answer = sent(cast, "progress:record-missing", entry, screening_id=cast.screening.pk, measure_key="rises")
    assert (answer.status_code, Result.objects.count()) == (404, before)


def test_a_correction_cannot_reach_a_result_of_another_class(cast, keys):
    strange = Result.objects.get(student=cast.out_of_reach)
    entry = {"key": uuid.uuid4(), "student": cast.ama.pk, "side": "L", "value": "9", "corrects_key": strange.key}
    answer = sent(cast, "progress:record-result", entry, screening_id=cast.screening.pk, measure_key="rises")
    assert answer.status_code == 404
    assert not Result.objects.filter(supersedes=strange).exists()


def test_a_correction_cannot_hit_the_result_of_another_student(cast, keys):
    strange = record(cast, 12, student=cast.bettina)
    entry = {"key": uuid.uuid4(), "student": cast.ama.pk, "side": "L", "value": "9", "corrects_key": strange.key}
    answer = sent(cast, "progress:record-result", entry, screening_id=cast.screening.pk, measure_key="rises")
    assert answer.status_code == 404
    assert not Result.objects.filter(supersedes=strange).exists()


def test_a_student_out_of_reach_cannot_be_added_to_ones_own_class(cast, keys):
    answer = sent(cast, "studio:add-student", {"student": cast.out_of_reach.pk}, class_id=cast.class_group.pk)
    assert answer.status_code == 404
    assert not cast.class_group.enrolments.filter(student=cast.out_of_reach).exists()


def test_a_student_cannot_be_moved_into_a_class_out_of_reach(cast, keys):
    data = {"class_group": cast.lonely_class.pk, "moved_on": "2026-03-24"}
    answer = sent(cast, "studio:move-class", data, enrolment_id=keys["enrolment_id"])
    assert answer.status_code == 422
    assert not cast.lonely_class.enrolments.filter(student=cast.ama).exists()


def test_pain_cannot_be_reported_for_a_student_out_of_reach_in_ones_own_screening(cast, keys):
    before = PainReport.objects.count()
    data = {"key": uuid.uuid4(), "region": "L-achilles", "feels": "dull"}
    answer = sent(
        cast, "progress:report-pain", data, screening_id=cast.screening.pk, student_id=cast.out_of_reach.pk
    )
    assert (answer.status_code, PainReport.objects.count()) == (404, before)


def test_a_follow_up_is_handed_only_to_people_who_reach_the_student(cast, keys):
    row = FollowUp.objects.get(pk=keys["follow_up_id"])
    data = {"acts": cast.other_teacher.pk, "due_on": "2026-04-01"}
    assert sent(cast, "progress:hand-over", data, follow_up_id=row.pk).status_code == 422
    row.refresh_from_db()
    assert row.acts == cast.teacher


def test_somebody_elses_file_is_not_there(cast, keys):
    second = type(cast.owner).objects.create_user("ida", name="Ida Holt", role="owner")
    client = Client()
    client.force_login(second, backend=BACKEND)
    of_drafts = [route for route, names in routes().items() if "draft_id" in names]
    assert len(of_drafts) == 4
    for route in of_drafts:
        for method in OPEN[route]:
            assert (route, knock(client, method, address(route, keys)).status_code) == (route, 404)
