"""The line at the barre: its order and the size of its groups, kept from class to class and from term to term."""
import datetime as dt

import pytest
from django.db import IntegrityError, transaction

from studio.actions import carry_over, set_barre_order, set_group_size
from studio.models import Enrolment
from studio.queries import barre_order
from tests import factories


def names_in_line(cast, term=None):
    order = barre_order(cast.class_group, term or cast.term, cast.screening.held_on)
    return [each.student.first_name for each in order]


def turn_round(cast):
    set_barre_order(enrolments=barre_order(cast.class_group, cast.term, cast.screening.held_on)[::-1], by=cast.teacher)


def test_a_line_that_nobody_ordered_goes_by_name(cast):
    assert names_in_line(cast) == ["Ama", "Bettina"]


def test_an_ordered_line_stays_and_a_newcomer_stands_behind_it(cast):
    turn_round(cast)
    factories.EnrolmentFactory(
        student=factories.StudentFactory(name="Aaliyah New"), class_group=cast.class_group, term=cast.term
    )
    assert names_in_line(cast) == ["Bettina", "Ama", "Aaliyah"]


def test_the_next_term_takes_the_line_over(cast):
    turn_round(cast)
    after = factories.TermFactory(
        name="Summer term", starts_on=cast.term.ends_on + dt.timedelta(days=10),
        ends_on=cast.term.ends_on + dt.timedelta(days=80),
    )
    carry_over(term=after, before=cast.term, by=cast.owner)
    assert names_in_line(cast, after) == ["Bettina", "Ama"]
    assert Enrolment.objects.filter(term=after, line_position__isnull=True).exclude(
        class_group=cast.class_group).count() == 2


@pytest.mark.parametrize("size", [0, 9])
def test_the_barre_holds_one_to_eight(cast, size):
    with pytest.raises(IntegrityError), transaction.atomic():
        set_group_size(class_group=cast.class_group, size=size, by=cast.teacher)
