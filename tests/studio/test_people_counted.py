"""How many students there are, by state: one query, and the same numbers wherever people are counted."""
import datetime as dt

import pytest
from django.urls import reverse

from studio.models import Enrolment
from studio.queries import people_by_state, students_by_state
from tests import factories
from tests.conftest import TODAY

PLACES = ("studio:office", "studio:students", "studio:all-cards", "progress:reports")


def state(student, term, day=TODAY):
    return students_by_state(term, day).get(pk=student.pk).state


@pytest.fixture
def left_by_two(cast):
    """Bettina left her class within the term; somebody was in an earlier term only."""
    Enrolment.objects.filter(student=cast.bettina).update(left_on=TODAY)
    before = factories.TermFactory(name="Autumn before", starts_on=dt.date(2025, 9, 1))
    return factories.EnrolmentFactory(class_group=cast.class_group, term=before).student


@pytest.mark.parametrize("place", PLACES)
def test_the_same_numbers_stand_wherever_people_are_counted(as_owner, cast, left_by_two, place):
    assert "3 dancing, 1 paused, 1 left" in " ".join(as_owner.get(reverse(place)).content.decode().split())


def test_one_query_counts_them(cast, left_by_two, django_assert_num_queries):
    with django_assert_num_queries(1):
        assert people_by_state(cast.term, TODAY) == {"dancing": 3, "paused": 1, "left": 1}


def test_the_day_of_leaving_is_the_first_day_without(cast):
    Enrolment.objects.filter(student=cast.bettina).update(left_on=TODAY)
    day = dt.timedelta(days=1)
    assert [state(cast.bettina, cast.term, on) for on in (TODAY - day, TODAY, TODAY + day)] == [
        "dancing", "paused", "paused"]


def test_after_the_terms_last_day_its_students_dance_till_the_next_one_begins(cast):
    assert state(cast.ama, cast.term, cast.term.ends_on + dt.timedelta(days=10)) == "dancing"


def test_who_is_in_a_coming_terms_class_only_is_paused(cast):
    coming = factories.TermFactory(name="Summer", starts_on=cast.term.ends_on + dt.timedelta(days=7))
    child = factories.EnrolmentFactory(class_group=cast.class_group, term=coming).student
    assert state(child, cast.term) == "paused"


def test_a_student_in_two_classes_is_one(cast):
    factories.EnrolmentFactory(student=cast.ama, class_group=cast.other_class, term=cast.term)
    assert people_by_state(cast.term, TODAY)["dancing"] == 4


def test_without_any_term_nobody_dances(cast):
    assert people_by_state(None, TODAY) == {"dancing": 0, "paused": 0, "left": 4}


def test_each_students_state_stands_in_the_list(as_owner, cast, left_by_two):
    page = as_owner.get(reverse("studio:students"), {"name": "Bettina"}).content.decode()
    assert "<td>paused</td>" in page


@pytest.mark.parametrize("is_demo", [True, False])
def test_the_demo_says_on_its_pages_that_it_is_one(as_owner, cast, is_demo):
    cast.studio.is_demo = is_demo
    cast.studio.save()
    for place in ("progress:today", *PLACES):
        assert ('class="demo-mark"' in as_owner.get(reverse(place)).content.decode()) == is_demo
