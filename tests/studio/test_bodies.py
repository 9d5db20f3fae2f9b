"""What is sent is refused by its size before it is read, and none of it reaches the disk."""
import pytest
from django.core.files.uploadedfile import InMemoryUploadedFile, SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from studio.network.body import LARGEST_BODY, LARGEST_BODY_OF_NOBODY
from studio.sheets.cells import MAX_BYTES
from tests.conftest import PASSWORD
from tests.reading import words_of


def bring(client, size: int):
    file = SimpleUploadedFile("list.csv", b"x" * size, "text/csv")
    return client.post(reverse("studio:bring-roster"), {"file": file})


def test_a_file_that_is_too_large_is_refused_in_a_sentence_before_it_is_read(as_owner, cast):
    answer = bring(as_owner, LARGEST_BODY)
    assert answer.status_code == 413 and "larger than 5 MB" in words_of(answer)


def test_a_file_a_little_too_large_is_refused_beside_its_field(as_owner, cast):
    answer = bring(as_owner, MAX_BYTES + 1)
    assert answer.status_code == 422 and "larger than" in words_of(answer)


@pytest.mark.parametrize("path", ["/login/", "/family/entrance/", "/office/roster-import/"])
def test_nobody_sends_more_than_a_form(db, path):
    for client in (Client(), Client(enforce_csrf_checks=True)):
        answer = client.post(path, {"username": "x" * LARGEST_BODY_OF_NOBODY})
        assert answer.status_code == 413


def test_what_nobody_types_is_far_below_that(db, cast):
    assert Client().post("/login/", {"username": "davit", "password": PASSWORD}).status_code == 302


def test_an_entry_of_a_tablet_that_is_too_large_is_told_so(as_teacher, cast):
    answer = as_teacher.post("/barre/taps/", {"x": "x" * LARGEST_BODY}, headers={"X-Outbox": "yes"})
    assert answer.status_code == 413 and answer.json()["why"] == "This is too large to send."


def test_a_tablet_whose_visit_is_over_logs_in_and_loses_nothing_however_much_waits(db):
    """Refused for its size, its entries would be put aside for good."""
    sent = {"x": "x" * LARGEST_BODY_OF_NOBODY}
    assert Client().post("/barre/taps/", sent, headers={"X-Outbox": "yes"}).status_code == 401


def test_an_uploaded_file_stays_in_memory(as_owner, cast, monkeypatch):
    seen = []
    monkeypatch.setattr("studio.forms.TableFileField.clean", lambda _self, data, _initial=None: seen.append(data))
    bring(as_owner, MAX_BYTES)
    assert [type(each) for each in seen] == [InMemoryUploadedFile]
