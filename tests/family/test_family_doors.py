"""Every door of a family, every method, every person; and nobody else's child is named behind any of them."""
import base64
import datetime as dt
import hashlib
import re

import pytest
from django.test import Client
from django.urls import reverse

from studio.family.actions import remove_guardian
from studio.models import GuardianKey
from tests import factories
from tests.doors import DOORS, FAMILY, FAMILY_DOORS, FAMILY_PEOPLE, NOBODY, address, furnish, routes
from tests.family.conftest import agree, family_of
from tests.test_access import BACKEND, knock

NAMES = ("Bettina", "Krall", "Greta", "Holmby", "Zuzanna", "Hidden")


@pytest.fixture
def keys(cast, amas):
    """Everybody has results, pain, follow-ups and consents; the keys are Ama's."""
    keys = furnish(cast)
    for child in (cast.ama, cast.bettina, cast.other_student, cast.out_of_reach):
        agree(cast, child)
    return keys | {"token": amas.token}


def _former(cast) -> Client:
    family = family_of(cast, cast.ama)
    remove_guardian(guardian=family.guardian, student=cast.ama, by=cast.owner)
    return family.client


def _expired(cast) -> Client:
    family = family_of(cast, cast.ama)
    yesterday = cast.screening.held_on - dt.timedelta(days=1)
    GuardianKey.objects.filter(guardian=family.guardian).update(valid_until=yesterday)
    return family.client


def visitor(cast, amas, person: str) -> Client:
    if person == "guardian":
        return amas.client
    if person == "other_guardian":
        return family_of(cast, cast.other_student).client
    if person in ("former_guardian", "expired_link"):
        return (_former if person == "former_guardian" else _expired)(cast)
    client = Client()
    if person != "nobody":
        client.force_login(getattr(cast, person), backend=BACKEND)
    return client


def path_of(route: str, keys: dict) -> str:
    return reverse(route, kwargs={name: keys[name] for name in routes()[route]})


@pytest.mark.parametrize("person", FAMILY_PEOPLE)
def test_each_door_of_a_family_opens_to_whom_the_table_says(cast, amas, keys, person):
    client, wrong = visitor(cast, amas, person), []
    for (method, route, whose), status in FAMILY_DOORS.items():
        if whose == person:
            found = knock(client, method, path_of(route, keys)).status_code
            if found != status:
                wrong.append(f"{method} {route}: {found}, not {status}")
    assert wrong == []


@pytest.mark.parametrize("person", FAMILY_PEOPLE)
def test_behind_no_door_of_a_family_is_anybody_elses_child_named(cast, amas, keys, person):
    client = visitor(cast, amas, person)
    hers = ("Ama",) if person not in ("guardian",) else ()
    for route, methods in FAMILY.items():
        for method in methods:
            text = knock(client, method, path_of(route, keys)).content.decode()
            assert (route, [name for name in (*NAMES, *hers) if name in text]) == (route, [])


def test_a_guardian_is_nobody_at_the_doors_of_the_staff(cast, amas, keys):
    """The client here sends her cookies everywhere; a browser sends them to the family's pages only."""
    wrong = []
    for (method, route, whose), status in DOORS.items():
        if whose == NOBODY and method in ("GET", "POST"):
            found = knock(amas.client, method, address(route, keys)).status_code
            wrong += [] if found == status else [(method, route, found)]
    assert wrong == []


def test_a_guardian_is_told_of_her_child_so_the_name_is_there_to_be_found(cast, amas, keys):
    assert "Ama" in knock(amas.client, "GET", path_of("progress:family-child", keys)).content.decode()


@pytest.mark.parametrize("person", ["guardian", "other_guardian"])
def test_a_family_key_opens_no_room_of_the_staff(cast, amas, keys, person):
    client = visitor(cast, amas, person)
    for path in ("/", "/office/", f"/students/{cast.ama.pk}/", f"/students/{cast.ama.pk}/family/"):
        assert client.get(path).headers["Location"].startswith("/login/")


def test_a_student_out_of_everyones_reach_is_in_no_list_of_families(cast, keys, as_teacher):
    factories.GuardianFactory(name="Guardian Hidden").students.add(cast.out_of_reach)
    for route in ("studio:families", "studio:consent-forms"):
        answer = as_teacher.get(reverse(route, args=[cast.class_group.pk])).content.decode()
        assert not [name for name in ("Zuzanna", "Hidden", "Greta") if name in answer]


@pytest.mark.parametrize("route", [route for route, methods in FAMILY.items() if "GET" in methods])
def test_a_familys_page_carries_its_styles_and_the_policy_lets_just_them(cast, amas, keys, route):
    """CSP level 3, 2.3.1: the base64 of the SHA-256 of what is between the tags."""
    page = amas.client.get(path_of(route, keys))
    policy = page.headers["Content-Security-Policy"]
    assert "unsafe" not in policy and "script-src" not in policy and policy.startswith("default-src 'self'; ")
    for style in re.findall(r"<style>(.*?)</style>", page.content.decode(), re.DOTALL):
        digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
        assert f"style-src 'self' 'sha256-{digest}'" in policy and "../" not in style and len(style) > 10_000
    assert page.content.count(b"<style") == bool(page.content) and b'rel="stylesheet"' not in page.content
