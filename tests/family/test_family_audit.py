"""Whatever a family or somebody in its place tries stands in the audit: by whom, on which page, about whom; no date."""
import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse

from studio.audit.models import AuditRow
from studio.family import actions
from studio.models import GuardianKey
from tests.conftest import TODAY
from tests.doors import FAMILY_DOORS, FAMILY_PEOPLE, furnish
from tests.family.conftest import agree, family_of, open_page
from tests.family.test_family_doors import path_of, visitor
from tests.family.test_links import ENTRANCE, WRONG, guess, page
from tests.studio.test_guessing import written


def rows() -> list[tuple]:
    return list(AuditRow.objects.order_by("pk").values_list("outcome", "page", "role", "person_key", "student_key"))


@pytest.fixture
def unopened(cast):
    """A family that has its card and has not opened it yet; nothing is in the audit before it does."""
    return family_of(cast, cast.ama, opened=False)


def test_coming_in_looking_and_going_out_are_written(cast, unopened):
    open_page(unopened, cast.ama.birth_on)
    unopened.client.get(page(cast.ama))
    unopened.client.post("/family/leave/")
    who = ("guardian", unopened.guardian.pk)
    assert rows() == [
        ("came_in", "studio:family-entrance", *who, None), ("saw", "progress:family-child", *who, cast.ama.pk),
        ("went_out", "studio:family-leave", *who, None),
    ]


def test_every_wrong_date_is_written_and_none_of_what_was_typed(cast, unopened):
    unopened.client.get(unopened.link)
    for _n in range(actions.WRONG_IN_AN_HOUR + 1):
        guess(unopened.client, WRONG)
    refused = [row for row in rows() if row[0] == "refused"]
    assert refused == [("refused", "studio:family-entrance", "guardian", unopened.guardian.pk, None)] * 6
    assert "2013" not in str(list(AuditRow.objects.values()))


def test_a_guessed_and_an_old_link_are_written_as_refused_of_nobody_known(cast, unopened):
    actions.end_key(guardian=unopened.guardian, by=cast.owner)
    Client().get(unopened.link)
    assert rows() == [("refused", "studio:family-card", "nobody", None, None)]
    assert unopened.token not in str(list(AuditRow.objects.values()))


def test_another_childs_number_is_written_with_who_tried_it(cast, unopened):
    open_page(unopened, cast.ama.birth_on)
    unopened.client.get(page(cast.bettina))
    assert rows()[-1] == ("refused", "progress:family-child", "guardian", unopened.guardian.pk, cast.bettina.pk)


def test_a_form_without_its_token_is_written_as_refused(cast, unopened):
    strict = Client(enforce_csrf_checks=True)
    strict.post(ENTRANCE, {"birth_on": "2014-05-01"})
    assert rows()[-1][:2] == ("refused", "studio:family-entrance")


def test_a_consent_taken_back_is_written_with_the_guardian_and_the_child(cast, unopened):
    open_page(unopened, cast.ama.birth_on)
    unopened.client.post(reverse("progress:family-take-back", args=[cast.ama.pk]), {"scope": "pain"})
    assert rows()[-1] == ("changed", "progress:family-take-back", "guardian", unopened.guardian.pk, cast.ama.pk)


def test_a_new_card_is_written_with_the_child_it_is_for(cast, unopened, as_owner):
    as_owner.post(reverse("studio:new-card", args=[unopened.guardian.pk]))
    assert rows()[-1] == ("changed", "studio:new-card", "owner", cast.owner.pk, cast.ama.pk)


# --- closed doors ---------------------------------------------------------------------------------


@pytest.mark.parametrize("person", FAMILY_PEOPLE)
def test_every_closed_door_of_a_family_is_written_as_refused(cast, amas, person):
    keys = furnish(cast) | {"token": "A" * 22}
    agree(cast, cast.ama)
    client, wrong = visitor(cast, amas, person), []
    for (method, route, whose), status in FAMILY_DOORS.items():
        if whose == person and (status == 404 or route == "studio:family-card") and status != 405:
            found = written(client, method, path_of(route, keys))
            wrong += [] if [row[:2] for row in found] == [("refused", route)] else [(method, route, found)]
    assert wrong == []


@pytest.mark.parametrize("what", ["expired", "ended"])
def test_an_old_link_and_a_device_that_was_opened_with_it_are_refused_and_written(cast, amas, what):
    if what == "expired":
        GuardianKey.objects.update(valid_until=TODAY - dt.timedelta(days=1))
    else:
        actions.end_key(guardian=amas.guardian, by=cast.owner)
    assert Client().get(amas.link).status_code == 404
    assert amas.client.get(reverse("progress:family-child", args=[cast.ama.pk])).status_code == 404
    assert amas.client.get("/family/").status_code == 404
    assert [row[:3] for row in rows()][-3:] == [
        ("refused", page, "nobody") for page in ("studio:family-card", "progress:family-child", "progress:family")
    ]


def test_back_after_a_family_closed_its_page_is_refused_and_written(cast, amas):
    page = reverse("progress:family-child", args=[cast.ama.pk])
    assert amas.client.get(page).headers["Cache-Control"] == "no-store, private"
    amas.client.post("/family/leave/")
    assert amas.client.get(page).status_code == 404
    assert rows()[-1] [:4] == ("refused", "progress:family-child", "nobody", None)


def test_a_birth_date_typed_after_the_link_was_made_anew_is_refused_and_written(cast):
    family = family_of(cast, cast.ama, opened=False)
    family.client.get(family.link)
    actions.make_key(guardian=family.guardian, term=cast.term, by=cast.owner)
    assert open_page(family, cast.ama.birth_on).status_code == 404
    assert rows()[-1][:2] == ("refused", "studio:family-entrance")
