"""Absent is said once for the day: told, taken back, by two at once, and put right by a result."""
import uuid
from decimal import Decimal

from django.db import connection
from django.test.utils import CaptureQueriesContext

from progress.actions import measuring
from screening.actions import Entry
from screening.models import Result
from tests.progress.test_measuring import record, take_back


def leave_out(cast, reason=Result.ABSENT, *, measure=None, key=None, by=None):
    """Why Ama is not measured; a teacher says so at the rises."""
    return measuring.record_missing(
        key=key or uuid.uuid4(), screening=cast.screening, student=cast.ama, measure=measure or cast.rises,
        by=by or cast.teacher, entry=Entry(reason_missing=reason),
    )


def absences(cast):
    rows = Result.objects.standing().filter(student=cast.ama, reason_missing=Result.ABSENT)
    return sorted(rows.values_list("measure__key", "side"))


def test_whoever_is_absent_is_so_in_every_measure_of_the_day_and_is_taken_back_from_all(cast):
    record(cast, 9, side="R", measure=cast.balance)
    key = uuid.uuid4()
    told = [leave_out(cast, key=key) for _twice in range(2)]
    assert {row.measure for row in told[0]} == {cast.rises} and told[0] == told[1]
    assert absences(cast) == [
        ("landing-control", "L"), ("landing-control", "R"), ("passe-balance", "L"), ("rises", "L"), ("rises", "R"),
    ]
    assert [*measuring.missing_from(cast.screening)] == [cast.bettina]
    take_back(cast, told[0][0])
    assert Result.objects.standing().exclude(reason_missing=Result.WITHDRAWN).get().value == 9
    assert {*measuring.missing_from(cast.screening)} == {cast.ama, cast.bettina}


def test_two_who_take_the_same_absence_back_are_both_right(cast):
    told = leave_out(cast)[0]
    in_another_measure = Result.objects.filter(measure=cast.balance, side="R").get()
    assert take_back(cast, told).reason_missing == Result.WITHDRAWN
    assert take_back(cast, in_another_measure).reason_missing == Result.WITHDRAWN


def test_who_was_absent_and_is_measured_is_here_until_that_is_undone(cast):
    told = leave_out(cast)[0]
    measured = measuring.correct_entry(
        key=uuid.uuid4(), result=told, entry=Entry(value=Decimal(12)), by=cast.other_teacher
    )
    assert absences(cast) == []
    again = take_back(cast, measured)
    assert again.reason_missing == Result.ABSENT and len(absences(cast)) == 6
    assert take_back(cast, again).reason_missing == Result.WITHDRAWN
    assert absences(cast) == []


def test_taking_an_absence_back_asks_the_judge_no_more_often_than_not_today(cast):
    first = leave_out(cast)[0]
    with CaptureQueriesContext(connection) as absent:
        take_back(cast, first)
    first = leave_out(cast, Result.NOT_TODAY)[0]
    with CaptureQueriesContext(connection) as not_today:
        take_back(cast, first)
    # Four rows more, each written in ten questions at most; judging the class alone takes more than that.
    assert len(absent) <= len(not_today) + 4 * 10


def test_not_today_is_about_one_measure(cast):
    leave_out(cast, Result.NOT_TODAY)
    assert {row.measure for row in Result.objects.all()} == {cast.rises}
