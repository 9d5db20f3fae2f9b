"""Load by week from the class log: counted as done, each foot's, compared by the studio's own rule."""
import datetime as dt
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from progress.actions.classwork import class_log
from progress.actions.classwork.exercises import set_load_rule
from progress.actions.classwork.programme import plan_exercise
from progress.actions.day import ClassDay, state_attendance, take_back
from progress.models import Exercise
from progress.queries.classwork.load import came_to_classes, student_load
from progress.queries.student import student_view
from progress.rules import load_of_feet as load
from progress.rules.dose import FIRM, Dose
from studio.models import ClassGroup
from tests.family.conftest import agree

# --- the rule, by itself ---------------------------------------------------------------------------------------


def by_week(*counts: int) -> dict[int, dict[str, int]]:
    return {week: {"one_foot": count} for week, count in enumerate(counts, start=1)}


def found(*counts: int, percent: int = load.DEFAULT_PERCENT, weeks=None) -> list[int]:
    class_weeks = weeks or range(1, len(counts) + 1)
    return [jump.week for jump in load.jumps(by_week(*counts), class_weeks=class_weeks, percent=percent)]


def test_half_as_much_again_is_no_jump_and_one_more_is():
    assert found(48, 48, 48, 72) == []
    assert found(48, 48, 48, 73) == [4]


def test_a_few_rises_more_are_never_a_jump():
    assert found(8, 8, 8, 31) == []
    assert found(8, 8, 8, 32) == [4]


def test_the_first_two_weeks_have_nothing_to_be_compared_with():
    assert found(10, 100) == []


def test_a_week_she_missed_counts_as_nothing_and_a_holiday_is_left_out():
    assert found(48, 48, 0, 72) == [4]
    assert found(48, 48, 0, 72, weeks=[1, 2, 4]) == []


def test_what_is_done_for_the_first_time_is_compared_with_nothing():
    assert found(0, 0, 0, 60) == []


def test_the_owners_figure_is_taken():
    assert found(48, 48, 48, 73, percent=60) == []


@given(st.lists(st.integers(0, 300), min_size=1, max_size=14), st.integers(10, 300))
def test_an_even_load_never_jumps_and_a_found_one_is_always_above_the_rule(counts, percent):
    assert found(*[counts[0]] * len(counts), percent=percent) == []
    for jump in load.jumps(by_week(*counts), class_weeks=range(1, len(counts) + 1), percent=percent):
        assert jump.repetitions * 100 > jump.before * (100 + percent)
        assert jump.repetitions - jump.before >= load.SMALLEST_JUMP


# --- from the log ------------------------------------------------------------------------------------------------


@pytest.fixture
def logged(cast):
    """Rises on one foot in four weeks: 2 × 12, three times, then 4 × 12; Ama missed the second one."""
    exercise = Exercise.objects.get(key="rises-one-foot")
    plan_exercise(
        class_group=cast.class_group, term=cast.term, exercise=exercise, dose=Dose(2, 12),
        added_on=cast.term.starts_on, by=cast.teacher,
    )
    for back, who in ((28, [cast.ama]), (21, []), (14, [cast.ama]), (7, [cast.ama]), (0, [cast.ama])):
        day = ClassDay(cast.class_group, cast.term, cast.screening.held_on - dt.timedelta(days=back))
        state_attendance(
            key=uuid.uuid4(), day=day, present=[cast.bettina, *who], absent=[] if who else [cast.ama], by=cast.teacher
        )
        class_log.log_as_planned(
            key=uuid.uuid4(), day=day, exercise=exercise, students=[cast.ama, cast.bettina], by=cast.teacher
        )
    class_log.log_change(
        key=uuid.uuid4(), day=day, exercise=exercise, student=cast.ama, change="sets:4", by=cast.teacher
    )


def test_the_weeks_tell_what_was_done_and_how_often_she_came(cast, logged):
    view = student_load(cast.ama, cast.term, today=cast.screening.held_on)
    assert [week for week, _day in view.weeks] == [8, 9, 10, 11, 12]
    assert view.came == ("1 of 1", "0 of 1", "1 of 1", "1 of 1", "1 of 1")
    [(words, cells)] = view.rows
    assert words == "rises on one foot, each foot"
    assert [(cell.words, cell.is_jump) for cell in cells] == [
        ("24", False), ("0", False), ("24", False), ("24", False), ("48", True),
    ]
    assert [cell.share for cell in cells] == [0.5, 0, 0.5, 0.5, 1]


def test_a_jump_is_said_with_its_figures_and_the_studios_rule(as_teacher, cast, logged):
    page = as_teacher.get(reverse("progress:student-work", args=[cast.ama.pk])).content.decode()
    assert "Week 12: 48 rises on one foot, each foot, against about 16 a week before." in page
    assert "More than 50 per cent above the three class weeks before: the studio’s own rule." in page
    other = as_teacher.get(reverse("progress:student-work", args=[cast.bettina.pk])).content.decode()
    assert "a week before" not in other
    assert page.count('class="column"') == 5 and page.count('class="mark-dot" fill') == 1


def test_the_owners_rule_decides_what_is_a_jump(cast, logged):
    set_load_rule(percent=250, set_on=cast.screening.held_on, by=cast.owner)
    assert student_load(cast.ama, cast.term, today=cast.screening.held_on).caution == ()


def test_what_is_taken_back_and_what_counts_as_nothing_is_not_in_the_load(cast):
    exercise, tap = Exercise.objects.get(key="rises-one-foot"), uuid.uuid4()
    day = ClassDay(cast.class_group, cast.term, cast.screening.held_on)
    for each, key in ((exercise, tap), (Exercise.objects.get(key="turnout-lying"), uuid.uuid4())):
        class_log.log_change(key=key, day=day, exercise=each, student=cast.ama, change="as_planned", by=cast.teacher)
    take_back(key=uuid.uuid4(), of=tap, day=day, by=cast.teacher)
    assert student_load(cast.ama, cast.term, today=cast.screening.held_on).rows == ()


def test_without_a_log_there_is_no_load(cast):
    assert student_load(cast.ama, cast.term, today=cast.screening.held_on) is None


def test_seldom_in_class_is_said_from_the_log(cast, logged):
    since, until = cast.term.starts_on, cast.screening.held_on
    assert came_to_classes(cast.ama, cast.class_group, since=since, until=until) == (4, 5)


def test_the_page_names_her_exercises_and_what_differs_for_her(as_teacher, cast, logged):
    plan_exercise(
        class_group=cast.class_group, term=cast.term, exercise=Exercise.objects.get(key="rises-one-foot"),
        dose=Dose(3, 12), student=cast.ama, note="left foot first", added_on=cast.screening.held_on, by=cast.teacher,
    )
    page = as_teacher.get(reverse("progress:student-work", args=[cast.ama.pk])).content.decode()
    assert "3 × 12 each foot, left foot first" in page.replace(FIRM, " ")
    view = student_view(
        cast.ama, cast.term, classes=ClassGroup.objects.all(), today=cast.screening.held_on, now=timezone.now()
    )
    assert view.enrolment.class_group == cast.class_group


def test_the_story_and_the_note_for_a_clinician_tell_the_same_work(as_teacher, cast, logged):
    story = as_teacher.get(reverse("progress:story", args=[cast.ama.pk]) + "?kind=work").content.decode()
    assert "Pre-pointe A: Élevés on one foot: 4 × 12" in story.replace(FIRM, " ")
    assert story.count("1 exercise as planned") == 3
    assert "Pre-pointe A: away" in story
    agree(cast, cast.ama)
    note = as_teacher.get(reverse("progress:referral-note", args=[cast.ama.pk])).content.decode()
    assert "In the 14 days to 24 March: 2 of 2 classes; 72 rises on one foot, each foot." in note
    assert "In the 14 days before: 1 of 2 classes; 24 rises on one foot, each foot." in note
