"""Whatever a family or somebody in its place tries stands in the audit: by whom, on which page, about whom; no date."""
import pytest
from django.test import Client
from django.urls import reverse

from studio.audit.models import AuditRow
from studio.family import actions
from tests.family.conftest import family_of, open_page
from tests.family.test_links import ENTRANCE, WRONG, guess, page


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
