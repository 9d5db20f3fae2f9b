"""The first page and the day at the barre: each class's one sensible step, and whom to measure again, by name only."""
import datetime as dt
import uuid

import pytest
from django.utils import timezone

from progress.actions.day import ClassDay, state_attendance
from progress.actions.measuring import record_missing
from progress.actions.standings import rebuild_standings
from progress.models import Standing
from progress.queries.barre.sheet import measuring_day
from screening.actions import Entry
from screening.models import Result, Screening
from studio.models import ClassMeeting
from tests.progress.test_measuring import past_results, record
from tests.progress.test_pain_reports import report


@pytest.fixture
def first_page(as_teacher, cast):
    """The words of today's class on the first page, and the button under them."""
    ClassMeeting.objects.create(class_group=cast.class_group, weekday=1, starts_at=dt.time(16, 30))

    def words() -> str:
        page = as_teacher.get("/").content.decode()
        return page.split('aria-labelledby="classes-today"')[1].split("</section>")[0]

    return words


@pytest.fixture
def closed(cast):
    cast.screening.closed_at, cast.screening.closed_by = timezone.now(), cast.teacher
    cast.screening.save()


def ask_for(cast, *children) -> None:
    """Two children with a line of four results, of which the judge wants to know more about these."""
    past_results(cast, [8, 10, 11, 12])
    past_results(cast, [10, 11, 13, 12], student=cast.bettina)
    rebuild_standings()
    Screening.objects.exclude(pk=cast.screening.pk).update(closed_at=timezone.now(), closed_by=cast.teacher)
    Standing.objects.update(measure_again=False)
    Standing.objects.filter(student__in=children).update(measure_again=True)


def test_an_open_screening_is_gone_on_with_and_says_how_many_are_left(cast, first_page):
    record(cast, 14)
    assert "0 done, 2 to go." in first_page() and "Go on with the screening" in first_page()


def test_to_go_means_the_same_on_the_first_page_and_on_the_day(as_teacher, cast, first_page):
    """One foot of one measure is not done, a reason is, and who rests is counted as neither."""
    for measure, side in ((cast.rises, "L"), (cast.rises, "R"), (cast.landing, "L"), (cast.landing, "R")):
        record(cast, 2, measure=measure, side=side)
    assert "0 done, 2 to go." in first_page()
    record_missing(
        key=uuid.uuid4(), screening=cast.screening, student=cast.ama, measure=cast.balance,
        entry=Entry(reason_missing=Result.NOT_TODAY), by=cast.teacher,
    )
    assert "1 done, 1 to go." in first_page()
    both = [cast.ama, cast.bettina]
    assert [student for student, _words in measuring_day(cast.screening, both, now=timezone.now()).missing] == [
        cast.bettina
    ]
    report(cast, student=cast.bettina)
    assert "1 done, nobody left to measure. No rises for now: Bettina." in first_page()
    assert measuring_day(cast.screening, both, now=timezone.now()).missing == ()


def test_the_first_page_says_that_there_is_something_to_see_to_and_not_what_hurts(as_teacher, cast):
    report(cast, feels=("numb",), intensity=7)
    page = as_teacher.get("/").content.decode()
    assert "Ama Owiredu:" in page and "please see to this." in page
    assert not [word for word in ("numb", "Achilles", "7 of 10", "health professional") if word in page]


def test_whom_to_measure_again_is_named_and_nothing_else_is_said_of_her(cast, first_page, closed):
    ask_for(cast, cast.ama)
    words = first_page()
    assert "Measure Ama again: two more results may settle it." in words and "Start a group run" in words
    assert "Bettina" not in words and "stalled" not in words and "not clear" not in words


def test_at_the_barre_their_names_stand_on_the_day_and_no_verdict(as_teacher, cast):
    ask_for(cast, cast.ama, cast.bettina)
    page = as_teacher.get(f"/barre/screenings/{cast.screening.pk}/").content.decode()
    assert "Measure again this week: Ama and Bettina." in page
    assert not [word for word in ("gaining", "stalled", "slipping", "not clear", "at target") if word in page.lower()]


def test_whoever_was_measured_again_tonight_is_not_asked_once_more(as_teacher, cast):
    ask_for(cast, cast.ama, cast.bettina)
    record(cast, 14)
    Standing.objects.update(measure_again=True)
    page = as_teacher.get(f"/barre/screenings/{cast.screening.pk}/").content.decode()
    assert "Measure again this week: Bettina." in page


def test_whoever_rests_is_not_asked_to_be_measured_again(as_teacher, cast):
    ask_for(cast, cast.ama, cast.bettina)
    report(cast)
    page = as_teacher.get(f"/barre/screenings/{cast.screening.pk}/").content.decode()
    assert "Measure again this week: Bettina." in page


def test_a_class_without_results_is_asked_for_its_first_screening(cast, first_page):
    cast.screening.delete()
    assert "The first screening starts the lines." in first_page() and "Open a screening" in first_page()


@pytest.mark.parametrize(("days", "words"), [
    (35, "Last measured on 17 February.<"), (34, "Last measured on 18 February. Nobody to measure again.<"),
])
def test_after_five_weeks_a_class_is_asked_to_be_measured(cast, first_page, closed, days, words):
    cast.screening.held_on -= dt.timedelta(days=days)
    cast.screening.save()
    assert words in first_page()


def test_a_log_that_was_begun_is_said(cast, first_page, closed):
    assert "The log is begun." not in first_page()
    day = ClassDay.of(cast.screening)
    # Absent may have been said in a screening: somebody who came begins the log.
    state_attendance(key=uuid.uuid4(), day=day, present=[], absent=[cast.ama], by=cast.teacher)
    assert "The log is begun." not in first_page()
    state_attendance(key=uuid.uuid4(), day=day, present=[cast.bettina], absent=[], by=cast.teacher)
    assert "The log is begun." in first_page()


def test_no_other_teachers_class_is_on_the_page(cast, first_page):
    ClassMeeting.objects.create(class_group=cast.other_class, weekday=1, starts_at=dt.time(18))
    assert "Pre-pointe A" in first_page() and "Pre-pointe B" not in first_page()
