"""Absent is said once for the day: told, taken back, by two at once, and put right by a result."""
import json
import uuid
from decimal import Decimal

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from progress.actions import measuring
from progress.actions.day import ClassDay, open_screening, state_attendance
from progress.actions.day import take_back as back
from progress.models import Attendance
from screening.actions import Entry
from screening.models import Result, Screening
from tests import factories
from tests.progress.test_measuring import record, take_back


def leave_out(cast, reason=Result.ABSENT, *, measure=None, key=None, by=None):
    """Why Ama is not measured; a teacher says so at the rises."""
    return measuring.record_missing(
        key=key or uuid.uuid4(), screening=cast.screening, student=cast.ama, measure=measure or cast.rises,
        by=by or cast.teacher, entry=Entry(reason_missing=reason),
    )


def absences(cast):
    rows = Result.objects.in_force().filter(student=cast.ama, reason_missing=Result.ABSENT)
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
    assert Result.objects.in_force().exclude(reason_missing=Result.WITHDRAWN).get().value == 9
    assert {*measuring.missing_from(cast.screening)} == {cast.ama, cast.bettina}


def test_an_absence_answers_with_the_rows_of_its_own_sheet(cast):
    """The other screening of the day says absent by the same tap."""
    other = factories.ScreeningFactory(
        class_group=cast.class_group, term=cast.term, battery=cast.battery, held_on=cast.screening.held_on,
        opened_by=cast.teacher,
    )
    told = leave_out(cast)
    assert other.results.filter(reason_missing=Result.ABSENT).exists()
    assert {(row.screening, row.measure) for row in told} == {(cast.screening, cast.rises)} and len(told) == 2


def test_only_a_new_count_says_that_an_absent_child_is_here(cast):
    """Not one that is sent again, nor one that is withdrawn."""
    first, key = record(cast, 12), uuid.uuid4()
    corrected = measuring.correct_result(key=key, result=first, entry=Entry(value=Decimal(13)), by=cast.teacher)
    state_attendance(
        key=uuid.uuid4(), day=ClassDay.of(cast.screening), present=[], absent=[cast.ama], by=cast.teacher,
        tapped_at=timezone.now(),
    )
    measuring.correct_result(key=key, result=first, entry=Entry(value=Decimal(13)), by=cast.teacher)
    assert not Attendance.objects.in_force().get(student=cast.ama).is_present
    measuring.correct_result(
        key=uuid.uuid4(), result=corrected, entry=Entry(reason_missing=Result.WITHDRAWN), by=cast.teacher
    )
    assert not Attendance.objects.in_force().get(student=cast.ama).is_present
    measuring.correct_result(
        key=uuid.uuid4(), result=Result.objects.in_force().get(student=cast.ama, side="L", measure=cast.rises),
        entry=Entry(value=Decimal(14)), by=cast.teacher,
    )
    assert Attendance.objects.in_force().get(student=cast.ama).is_present


def test_two_who_take_the_same_absence_back_are_both_right(cast):
    told = leave_out(cast)[0]
    in_another_measure = Result.objects.filter(measure=cast.balance, side="R").get()
    assert take_back(cast, told).reason_missing == Result.WITHDRAWN
    assert take_back(cast, in_another_measure).reason_missing == Result.WITHDRAWN


def test_who_was_absent_and_is_measured_is_here_until_that_is_undone(cast):
    told = leave_out(cast)[0]
    measured = measuring.correct_result(
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


def test_absent_in_the_class_log_is_absent_in_a_screening_of_the_day_open_or_opened_later(cast):
    tap = uuid.uuid4()
    today = ClassDay.of(cast.screening)
    elsewhere = factories.ScreeningFactory(
        class_group=cast.other_class, term=cast.term, battery=cast.battery, held_on=cast.screening.held_on,
        opened_by=cast.teacher,
    )
    state_attendance(key=tap, day=today, present=[cast.bettina], absent=[cast.ama], by=cast.teacher)
    assert len(absences(cast)) == 6 and not elsewhere.results.exists()
    Screening.objects.update(closed_at=timezone.now())
    later = open_screening(
        class_group=cast.class_group, term=cast.term, battery=cast.battery, held_on=cast.screening.held_on, name="",
        by=cast.other_teacher,
    )
    assert Result.objects.saying().filter(screening=later, student=cast.ama, reason_missing=Result.ABSENT).count() == 6
    assert {*measuring.missing_from(later)} == {cast.bettina}
    back(key=uuid.uuid4(), of=tap, day=today, by=cast.teacher)
    assert absences(cast) == [] and {*measuring.missing_from(later)} == {cast.ama, cast.bettina}


def test_absent_in_a_screening_is_absent_in_the_class_log_until_she_is_measured(cast):
    told = leave_out(cast)[0]
    assert Attendance.objects.saying().get().is_present is False
    measured = measuring.record_result(
        key=uuid.uuid4(), screening=cast.screening, student=cast.ama, measure=cast.balance, side="L",
        entry=Entry(value=Decimal(12)), by=cast.teacher,
    )
    assert Attendance.objects.saying().get().is_present is True and absences(cast) == []
    take_back(cast, measured)
    assert Attendance.objects.saying().get().origin == told.key and len(absences(cast)) == 6


def test_here_after_all_in_the_class_log_frees_every_measure_and_her_log(cast):
    leave_out(cast)
    key = uuid.uuid4()
    today = ClassDay.of(cast.screening)
    state_attendance(key=key, day=today, present=[cast.ama], absent=[], by=cast.teacher)
    assert absences(cast) == []
    back(key=uuid.uuid4(), of=key, day=today, by=cast.teacher)
    assert len(absences(cast)) == 6


def test_a_run_of_another_measure_knows_who_is_absent_before_its_first_beat(cast, as_teacher):
    leave_out(cast)
    run = as_teacher.get(f"/barre/screenings/{cast.screening.pk}/passe-balance/run/")
    assert run.context["out"]["absent"] == [cast.ama.pk]
    rows = json.loads(run.context["view"].plan)["rows"]
    assert {(row["student"], row["reason"]) for row in rows} == {(cast.ama.pk, "absent")}


def test_what_waited_on_a_tablet_says_again_that_she_was_measured_and_not_that_she_is_here(cast):
    key = uuid.uuid4()
    about = {"key": key, "screening": cast.screening, "student": cast.ama, "measure": cast.rises, "side": "L"}
    measuring.record_result(**about, entry=Entry(value=Decimal(12)), by=cast.teacher)
    leave_out(cast, measure=cast.balance)
    measuring.record_result(**about, entry=Entry(value=Decimal(12)), by=cast.teacher)
    assert Attendance.objects.saying().get().is_present is False
