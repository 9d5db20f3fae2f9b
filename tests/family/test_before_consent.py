"""A studio whose forms are not back yet: its pages say that nobody is asked, and why, not that everybody was seen."""
import datetime as dt

import pytest
from django.urls import reverse

from studio.models import Consent, Studio
from tests.family.conftest import agree
from tests.family.test_withdrawn import readable


@pytest.fixture
def unasked(cast):
    Studio.objects.filter(pk=1).update(consent_asked_from=dt.date(2026, 1, 1))
    return cast


def the_screening(client, cast):
    return client.get(reverse("progress:screening", args=[cast.screening.pk]))


def test_a_screening_of_which_nobody_is_asked_says_so_and_leads_to_the_families(unasked, as_teacher):
    page = the_screening(as_teacher, unasked)
    words = readable(page)
    assert "Not asked: Ama, Bettina." in words and "nobody to measure" in words and "Nobody to measure." in words
    assert "nobody left to measure" not in words and "Nobody left to measure." not in words
    assert reverse("studio:families", args=[unasked.class_group.pk]) in page.content.decode()


@pytest.mark.parametrize("room", ["sheet", "run"])
def test_neither_sheet_nor_group_run_calls_seen_whom_nobody_asks(unasked, as_teacher, room):
    words = as_teacher.get(reverse(f"progress:{room}", args=[unasked.screening.pk, "rises"])).content.decode()
    assert "Nobody to measure." in words and "Nobody left to measure." not in words


def test_with_one_family_in_the_others_alone_are_not_asked(unasked, as_teacher):
    agree(unasked, unasked.ama, Consent.MEASUREMENTS)
    words = readable(the_screening(as_teacher, unasked))
    assert "Not asked: Bettina." in words and "nobody to measure" not in words


def test_a_class_without_results_says_whose_forms_are_not_back(unasked, as_owner):
    words = readable(as_owner.get(reverse("progress:class-sheet", args=[unasked.lonely_class.pk])))
    assert "1 of 1 families has not agreed to measurements: Families" in " ".join(words.split())


def test_a_form_that_is_not_back_is_told_from_a_no(unasked, as_owner):
    agree(unasked, unasked.ama, Consent.MEASUREMENTS, is_given=False)
    words = readable(as_owner.get(reverse("studio:families", args=[unasked.class_group.pk])))
    hers, others = words.split("Bettina Krall")[0], words.split("Bettina Krall")[1]
    assert " no no answer no answer no answer" in " ".join(hers.split())
    assert "no answer no answer no answer no answer" in " ".join(others.split())
