"""What the papers say of a term's classes: attendance, exercises and load out of the log, as far as it goes."""
import datetime as dt
import uuid

import pytest
from django.utils import timezone

from progress.actions.classwork import class_log
from progress.actions.classwork.programme import plan_exercise
from progress.actions.day import ClassDay, state_attendance
from progress.models import Exercise
from progress.queries.classwork.load import Cell, LoadView, load_lines
from progress.queries.classwork.practised import practised_lines
from progress.queries.papers.term_report import student_record
from progress.rules.dose import Dose
from studio.models import ClassGroup
from tests.conftest import TODAY


@pytest.fixture
def logged(cast):
    """Rises on one foot in three of four classes, the short foot in one of them; Ama missed the second class."""
    for key in ("rises-one-foot", "short-foot"):
        plan_exercise(
            class_group=cast.class_group, term=cast.term, exercise=Exercise.objects.get(key=key), dose=Dose(2, 12),
            added_on=cast.term.starts_on, by=cast.teacher,
        )
    for back in (21, 14, 7, 0):
        day, she_came = ClassDay(cast.class_group, cast.term, TODAY - dt.timedelta(days=back)), back != 14
        state_attendance(
            key=uuid.uuid4(), day=day, present=[cast.ama, cast.bettina][not she_came:],
            absent=[] if she_came else [cast.ama], by=cast.teacher,
        )
        for key in ["rises-one-foot", *["short-foot"] * (back == 0)] if she_came else []:
            class_log.log_as_planned(
                key=uuid.uuid4(), day=day, exercise=Exercise.objects.get(key=key), students=[cast.ama], by=cast.teacher
            )
    return cast


def test_attendance_exercises_and_load_are_those_of_the_log(logged):
    came, exercises, load = practised_lines(logged.ama, logged.term, as_of=TODAY)
    assert came == "3 of 4 classes."
    assert exercises.endswith("(3 times) and Short foot (doming) (1 time).")
    assert load == "Rises on one foot, each foot, weeks 9 to 12: 24, 0, 24, 24."


def test_what_was_done_equally_often_is_counted_once(logged):
    logged.term.starts_on = TODAY
    exercises = practised_lines(logged.ama, logged.term, as_of=TODAY)[1]
    assert exercises.startswith("Short foot (doming) and ") and exercises.endswith(" (1 time each).")


def test_a_single_week_is_no_span_of_weeks():
    view = LoadView(1, 1, ((12, "24 March"),), ("1",), (("rises on two feet", (Cell(12, "8"),)),), (), "")
    assert load_lines(view) == ("Rises on two feet, week 12: 8",)


def test_what_was_logged_after_the_day_is_not_in_it(logged):
    lines = practised_lines(logged.ama, logged.term, as_of=TODAY - dt.timedelta(days=1))
    assert lines[0] == "2 of 3 classes." and "Short foot" not in lines[1]


def test_an_exercise_that_was_left_out_was_not_practised(logged):
    day = ClassDay(logged.class_group, logged.term, TODAY)
    class_log.log_change(
        key=uuid.uuid4(), day=day, exercise=Exercise.objects.get(key="short-foot"), student=logged.ama,
        change="left_out", by=logged.teacher,
    )
    assert "Short foot" not in " ".join(practised_lines(logged.ama, logged.term, as_of=TODAY))


def test_the_record_says_it_and_nothing_where_no_class_was_logged(logged):
    about = {"studio": logged.studio, "classes": ClassGroup.objects.all()}
    assert student_record(logged.ama, logged.term, **about, now=timezone.now()).practised[0] == "3 of 4 classes."
    assert student_record(logged.other_student, logged.term, **about, now=timezone.now()).practised == ()
