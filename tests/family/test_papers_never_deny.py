"""What may not be shown is "not on this paper": no paper, page or copy says that there was none of it."""
import re
import uuid

import pytest
from django.test import Client
from django.urls import reverse

from progress.actions.papers import reports
from studio.models import Consent
from tests.conftest import TODAY
from tests.family.conftest import agree
from tests.family.test_family_doors import path_of
from tests.family.test_withdrawn import behind_every_door, keys, readable  # noqa: F401
from tests.progress.test_reports import AT_ONCE

# As a reader would see a denial of pain, and one of measurements.
NO_PAIN = r"No pain was reported|[Nn]othing (is|was) open|Nothing reported in|Nothing open|Nothing written down yet"
NO_NUMBERS = (
    r"Nothing was measured|Nothing written down\.|Numbers follow|has just begun|No results? yet|No height yet"
)


@pytest.fixture
def silent(cast, keys):  # noqa: F811
    """Ama with numbers and an open stop sign, and a family that took back what was agreed to."""
    agree(cast, cast.ama, Consent.MEASUREMENTS, Consent.PAIN, is_given=False)
    return keys


def paper(client: Client, name: str, student, question: str = "") -> str:
    return " ".join(readable(client.get(reverse(name, args=[student.pk]) + question)).split())


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_the_record_says_not_on_this_paper_and_denies_nothing(cast, silent, as_owner, size):
    printed = paper(as_owner, "progress:student-record", cast.ama, f"?paper={size}")
    assert "Pain notes are not on this paper." in printed
    assert "Measurements are not on this paper." in printed and "Not all of them are on this paper." in printed
    assert not re.search(f"{NO_PAIN}|{NO_NUMBERS}", printed)


def test_the_record_of_whoever_agreed_and_has_none_says_so(cast, as_owner):
    agree(cast, cast.bettina)
    printed = paper(as_owner, "progress:student-record", cast.bettina)
    assert "No pain was reported in this term." in printed and "Nothing is open." in printed
    assert "not on this paper" not in printed


@pytest.mark.parametrize("name", ["progress:referral-note", "progress:print-referral-note"])
def test_the_note_for_a_clinician_says_not_on_this_paper_and_denies_nothing(cast, keys, as_owner, name):  # noqa: F811
    assert "like needles" in paper(as_owner, name, cast.ama)
    agree(cast, cast.ama, Consent.PAIN, is_given=False)
    told = paper(as_owner, name, cast.ama)
    assert "Pain notes are not on this paper." in told
    assert not re.search(NO_PAIN, told) and "like needles" not in told


@pytest.mark.parametrize("name", ["progress:class-sheet", "progress:print-class-sheet"])
def test_a_class_sheet_does_not_say_that_a_silent_student_has_no_results_yet(cast, silent, as_owner, name):
    """Bettina has none, six times; of Ama nothing is said."""
    agree(cast, cast.bettina)
    told = readable(as_owner.get(reverse(name, args=[cast.class_group.pk])))
    assert told.count("none yet") == 6


def test_a_note_without_its_pain_does_not_say_that_nothing_was_counted_at_the_time(cast, keys, as_owner):  # noqa: F811
    agree(cast, cast.ama, Consent.PAIN, is_given=False)
    told = paper(as_owner, "progress:referral-note", cast.ama)
    assert "before, 24 March: left 67, right 67" in told and "at the time" not in told


def test_records_bound_for_a_class_deny_nothing(
    cast, silent, as_owner, settings, tmp_path, django_capture_on_commit_callbacks
):
    settings.VAR_DIR, settings.TASKS = tmp_path, AT_ONCE
    with django_capture_on_commit_callbacks(execute=True):
        run = reports.order_reports(
            term=cast.term, kind="record", size="A4", students=[cast.ama], asked_on=TODAY, by=cast.owner)
    for name in ("all.pdf", "all.zip"):
        told = readable(as_owner.get(reverse("progress:report-file", args=[run.key, name])))
        assert not re.search(f"{NO_PAIN}|{NO_NUMBERS}", told)


def test_no_page_about_a_silent_student_denies_what_it_may_not_show(cast, silent, amas, as_owner):
    """Every door of the table that names the student; the family's own page and the copy among them."""
    agree(cast, cast.ama, Consent.MEASUREMENTS, Consent.PAIN, is_given=False)
    doors = behind_every_door(as_owner, amas.client, silent | {"token": amas.token}, uuid.uuid4())
    denying = {
        door: found[0] for door, answer in doors
        if "Ama" in (told := readable(answer)) and (found := re.search(f"{NO_PAIN}|{NO_NUMBERS}", told))
    }
    assert denying == {}


def test_the_familys_page_says_why_there_are_no_numbers(cast, amas, silent):
    agree(cast, cast.ama, Consent.MEASUREMENTS, is_given=False)
    told = readable(amas.client.get(path_of("progress:family-child", silent | {"token": amas.token})))
    assert "There are no numbers here: we measure only with your consent." in told
    assert not re.search(NO_NUMBERS, told)
