"""A class's programme: suggested with its reason, decided by the teacher, kept as history, prompted by the log."""
import datetime as dt
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from progress.actions.answering import open_pain_follow_up
from progress.actions.classwork import class_log
from progress.actions.classwork.programme import move_to_step, plan_exercise
from progress.actions.day import ClassDay
from progress.models import Exercise, FollowUp, LadderStep, PainReport, ProgrammeEntry
from progress.queries.classwork.exercises import versions_by_exercise
from progress.queries.classwork.programme import planned_exercises
from progress.queries.classwork.steps import step_prompts
from progress.queries.classwork.suggestions import ClassNeeds, suggested
from progress.rules import suggestions
from progress.rules.dose import FIRM, Dose
from progress.rules.suggestions import Need, Offer, Seen
from screening.models import Protocol, Result
from studio.actions import Refused
from studio.queries import barre_names
from tests import factories
from tests.conftest import TODAY

# --- the rule, by itself ---------------------------------------------------------------------------------------


def test_a_fault_shared_by_a_third_is_the_classes_and_by_two_is_not():
    many = [Seen(n, "rises", faults={"wobble": 2} if n < 4 else {}) for n in range(12)]
    few = [Seen(n, "rises", faults={"wobble": 2} if n < 2 else {}) for n in range(4)]
    assert [suggestions.is_of_class(need) for need in suggestions.shared_needs(many)] == [True]
    assert [suggestions.is_of_class(need) for need in suggestions.shared_needs(few)] == [False]


def test_a_fault_seen_once_is_no_need():
    assert suggestions.student_needs([Seen("Ama", "rises", faults={"wobble": 1})]) == []


def test_a_stall_of_the_whole_class_is_nobodys_own_need():
    seen = [Seen(n, "rises", no_gain=("L", "R")) for n in range(6)]
    [need] = suggestions.shared_needs(seen, stalled={"rises": range(6)})
    assert need.kind == suggestions.STALL


def test_for_a_foot_behind_only_work_of_one_foot_is_suggested():
    offers = [Offer("both", [("rises", "")]), Offer("single", [("rises", "")], each_foot=True)]
    need = Need(suggestions.BEHIND, "rises", "L", ("Ama",), 1)
    assert [s.exercise for s in suggestions.suggestions([need], offers, planned=(), most=5)] == ["single"]


def test_nothing_is_suggested_twice_nor_what_is_planned():
    offers = [Offer(n, [("rises", ""), ("rises", "wobble")]) for n in range(6)]
    needs = [Need(suggestions.NO_GAIN, "rises", "", (1,), 1), Need(suggestions.FAULT, "rises", "wobble", (1,), 1)]
    found = [s.exercise for s in suggestions.suggestions(needs, offers, planned={0, 2}, most=5)]
    assert found == [1, 3, 4, 5]


def test_everybody_is_in_one_group_at_most_and_whoever_rests_in_none():
    needs = [Need("no_gain", "rises", "", (1, 2, 3), 9), Need("fault", "rises", "wobble", (2, 3, 4, 5), 9)]
    found = suggestions.groups(needs, resting=[5])
    assert [each.students for each in found] == [(1, 2, 3)]
    everyone = [pk for each in suggestions.groups(needs) for pk in each.students]
    assert sorted(everyone) == sorted(set(everyone))


# --- what is planned ---------------------------------------------------------------------------------------------


USUAL = Dose(2, 8)


def plan(cast, key, dose=USUAL, **more):
    return plan_exercise(
        class_group=cast.class_group, term=cast.term, exercise=Exercise.objects.get(key=key), dose=dose,
        added_on=cast.screening.held_on, by=cast.teacher, **more,
    )


def planned(cast):
    return planned_exercises(cast.class_group, cast.term, [cast.ama, cast.bettina])


def test_another_dose_takes_the_place_of_the_one_before_which_stays_as_history(cast):
    first = plan(cast, "heel-press")
    plan(cast, "rises-first")
    second = plan(cast, "heel-press", Dose(3, 8))
    first.refresh_from_db()
    assert first.left_out_by == cast.teacher
    assert [each.version.exercise.key for each in planned(cast)] == ["heel-press", "rises-first"]
    assert planned(cast)[0].entry == second
    assert plan(cast, "heel-press", Dose(3, 8)) == second


def test_a_students_own_dose_is_hers_alone_and_whoever_is_spared_does_without(cast):
    plan(cast, "heel-press")
    plan(cast, "heel-press", Dose(1, 6), student=cast.ama)
    plan(cast, "heel-press", student=cast.bettina, is_spared=True)
    [row] = planned(cast)
    assert row.entry_of(cast.ama.pk).dose == Dose(1, 6)
    assert row.entry_of(cast.bettina.pk) is None
    assert row.entry_of(-1).dose == Dose(2, 8)


def test_moving_up_to_another_exercise_spares_her_the_one_she_leaves(cast):
    steps = {step.position: step for step in LadderStep.objects.filter(ladder__key="one-foot")}
    plan(cast, "up-two-down-one", steps[3].dose, step=steps[3])
    move_to_step(
        class_group=cast.class_group, term=cast.term, step=steps[4], away_from=steps[3].exercise, students=[cast.ama],
        added_on=cast.screening.held_on, by=cast.teacher, reason="",
    )
    by_key = {each.version.exercise.key: each for each in planned(cast)}
    assert by_key["up-two-down-one"].entry_of(cast.ama.pk) is None
    assert by_key["rises-one-foot"].entry_of(cast.ama.pk).step == steps[4]
    assert by_key["rises-one-foot"].entry_of(cast.bettina.pk) is None


def test_the_whole_class_goes_up_and_keeps_its_place_in_the_order(cast):
    steps = {step.position: step for step in LadderStep.objects.filter(ladder__key="one-foot")}
    plan(cast, "up-two-down-one", steps[3].dose, step=steps[3])
    plan(cast, "heel-press")
    move_to_step(
        class_group=cast.class_group, term=cast.term, step=steps[4], away_from=steps[3].exercise, students=None,
        added_on=cast.screening.held_on, by=cast.teacher, reason="",
    )
    assert [each.version.exercise.key for each in planned(cast)] == ["rises-one-foot", "heel-press"]


# --- prompts from the log ----------------------------------------------------------------------------------------


@pytest.fixture
def on_step(cast):
    step = LadderStep.objects.get(ladder__key="one-foot", position=6)
    plan(cast, "rises-one-foot", step.dose, step=step)
    return step


def did(cast, days_ago: int, change="as_planned", student=None):
    day = ClassDay(cast.class_group, cast.term, cast.screening.held_on - dt.timedelta(days=days_ago))
    class_log.log_change(
        key=uuid.uuid4(), day=day, exercise=Exercise.objects.get(key="rises-one-foot"), student=student or cast.ama,
        change=change, by=cast.teacher,
    )


def found_prompts(cast):
    students = [cast.ama, cast.bettina]
    return step_prompts(
        cast.class_group, cast.term, students, planned(cast), versions_by_exercise(), today=TODAY, now=timezone.now()
    )


def prompts(cast):
    found = found_prompts(cast)
    return [(each.move, each.to.position if each.to else None, [s.name for s in each.students]) for each in found]


def test_clean_at_the_dose_in_two_classes_running_prompts_a_step_up(cast, on_step):
    did(cast, 7)
    assert prompts(cast) == []
    did(cast, 4)
    assert prompts(cast) == [("up", 7, ["Ama Owiredu"])]


@pytest.mark.parametrize("change", ["sets:1", "fault:wobble", "control:corrected", "left_out"])
def test_less_than_the_dose_or_not_clean_prompts_nothing(cast, on_step, change):
    did(cast, 7)
    did(cast, 4, change)
    assert prompts(cast) == []


def test_control_lost_twice_or_pain_prompts_a_step_down(cast, on_step):
    for days_ago in (7, 4):
        did(cast, days_ago, "control:lost")
        did(cast, days_ago, student=cast.bettina)
    PainReport.objects.create(
        student=cast.bettina, places=["L-heel"], feels=["dull"], asks="watch",
        reported_on=cast.screening.held_on - dt.timedelta(days=4), reported_by=cast.teacher,
    )
    assert prompts(cast) == [("down", 5, ["Ama Owiredu"]), ("down", 5, ["Bettina Krall"])]


def test_nobody_who_rests_is_prompted_anywhere(cast, on_step):
    for days_ago in (7, 4):
        did(cast, days_ago)
    PainReport.objects.create(
        student=cast.ama, places=["L-heel"], feels=["sharp"], asks="stop", reported_on=cast.screening.held_on,
        reported_by=cast.teacher,
    )
    [prompt] = found_prompts(cast)
    assert (prompt.move, prompt.students) == ("up", [])
    assert prompt.held == [(cast.ama, "seated work and barre on flat feet only")]


@pytest.mark.parametrize("days_ago, goes_up", [(13, False), (14, False), (15, True)])
def test_pain_of_the_last_two_weeks_keeps_everybody_on_the_step(cast, on_step, days_ago, goes_up):
    for day in (7, 4):
        did(cast, day)
    PainReport.objects.create(
        student=cast.ama, places=["L-heel"], feels=["dull"], asks="watch", reported_by=cast.teacher,
        reported_on=TODAY - dt.timedelta(days=days_ago),
    )
    [prompt] = found_prompts(cast)
    assert [s.name for s in prompt.students] == (["Ama Owiredu"] if goes_up else [])
    assert prompt.held == ([] if goes_up else [(cast.ama, "as now, no more")])


def test_pain_that_is_open_is_never_ticked_for_more_and_never_moved_up(as_teacher, cast, on_step):
    for student in (cast.ama, cast.bettina):
        for day in (7, 4):
            did(cast, day, student=student)
    opened = PainReport.objects.create(
        student=cast.ama, places=["L-heel", "R-heel"], feels=["dull"], asks="watch", reported_by=cast.teacher,
        reported_on=TODAY - dt.timedelta(days=30),
    )
    open_pain_follow_up(
        student=cast.ama, kind=FollowUp.PAIN_LASTS, class_group=cast.class_group, reports=[opened], by=cast.teacher
    )
    page = as_teacher.get(reverse("progress:programme", args=[cast.class_group.pk])).content.decode()
    assert "Ama: no more for now. May do: everything but rises and jumps." in page
    assert f'name="students" value="{cast.bettina.pk}" checked' in page
    assert f'name="students" value="{cast.ama.pk}"' not in page
    step = LadderStep.objects.get(ladder__key="one-foot", position=7)
    move = {"class_group": cast.class_group, "term": cast.term, "step": step, "away_from": on_step.exercise,
            "added_on": TODAY, "by": cast.teacher, "reason": ""}
    with pytest.raises(Refused, match="Ama Owiredu"):
        move_to_step(students=[cast.ama, cast.bettina], **move)
    move_to_step(students=None, **move)
    [row] = [each for each in planned(cast) if each.version.exercise_id == on_step.exercise_id]
    assert (row.entry_of(cast.ama.pk).step, row.entry_of(cast.bettina.pk).step) == (on_step, step)


# --- suggested from the class sheet ------------------------------------------------------------------------------


def test_a_fault_of_many_is_suggested_to_the_class_with_its_reason(cast):
    children = [cast.ama, cast.bettina, *(factories.StudentFactory(name=f"Child {n}") for n in range(4))]
    for child in children[:3]:
        for days_ago in (7, 14):
            Result.objects.create(
                screening=cast.screening, student=child, measure=cast.rises, fault="gripped", value=9, side="L",
                protocol=Protocol.objects.get(measure=cast.rises), attempt=days_ago // 7,
                taken_on=cast.screening.held_on - dt.timedelta(days=days_ago), by=cast.teacher,
            )
    needs = ClassNeeds(cast.class_group, cast.term, barre_names(children), today=TODAY, now=timezone.now())
    for_class, _for_students = suggested(needs, children, [], versions_by_exercise())
    assert {("rises", "gripped")} <= {tuple(pair) for pair in for_class[0].version.serves}
    assert for_class[0].reason == "In rises, “gripped” was seen again and again in 3 of 3 students."


def test_the_teacher_takes_in_a_suggestion_and_leaves_it_out_again(as_teacher, cast):
    path = reverse("progress:plan-exercise", args=[cast.class_group.pk])
    as_teacher.post(path, {"exercise": "short-foot", "reason": "Gripped toes."})
    entry = ProgrammeEntry.objects.get()
    assert (entry.dose, entry.reason, entry.added_by) == (Dose(2, 8, 5), "Gripped toes.", cast.teacher)
    as_teacher.post(reverse("progress:leave-out-exercise", args=[entry.pk]))
    assert planned(cast) == []
    assert ProgrammeEntry.objects.get().left_out_by == cast.teacher


@pytest.mark.parametrize("fields", [
    {"exercise": "nothing"}, {"exercise": "short-foot", "sets": "0", "reps": "8"},
    {"exercise": "short-foot", "sets": "2"}, {"exercise": "short-foot", "is_spared": "on"},
    {"exercise": "short-foot", "sets": "2", "reps": "999"},
])
def test_what_cannot_be_planned_is_refused_and_what_was_typed_stays(as_teacher, cast, fields):
    answer = as_teacher.post(
        reverse("progress:plan-exercise", args=[cast.class_group.pk]), {**fields, "note": "typed note"}
    )
    assert answer.status_code == 422
    assert "typed note" in answer.content.decode()
    assert not ProgrammeEntry.objects.exists()


def test_a_student_of_another_class_cannot_be_planned_for(as_teacher, cast):
    fields = {"exercise": "short-foot", "student": cast.other_student.pk}
    assert as_teacher.post(reverse("progress:plan-exercise", args=[cast.class_group.pk]), fields).status_code == 422
    assert not ProgrammeEntry.objects.exists()


def test_the_order_changes_by_one_place_and_not_beyond_the_ends(as_teacher, cast):
    entries = [plan(cast, key) for key in ("heel-press", "rises-first", "short-foot")]
    for entry, to in ((entries[2], "earlier"), (entries[0], "earlier"), (entries[1], "later")):
        as_teacher.post(reverse("progress:move-exercise", args=[entry.pk]), {"to": to})
    assert [each.version.exercise.key for each in planned(cast)] == ["heel-press", "short-foot", "rises-first"]


def test_the_barre_card_says_doses_and_stop_rules_and_judges_nobody(as_teacher, cast):
    plan(cast, "rises-one-foot", Dose(2, 6), reason="In rises there is no gain now.")
    plan(cast, "rises-one-foot", Dose(3, 6), student=cast.ama, note="left foot first")
    page = as_teacher.get(reverse("progress:barre-card", args=[cast.class_group.pk])).content.decode()
    page = page.replace(FIRM, " ")
    assert "2 × 6 each foot" in page and "left foot first" in page and "stop this foot" in page
    assert "no gain" not in page


def test_the_barre_card_hangs_in_the_room_and_names_nobody_beside_a_fault(as_teacher, cast):
    for child in (cast.ama, cast.bettina):
        for attempt, days_ago in enumerate((7, 14), start=1):
            Result.objects.create(
                screening=cast.screening, student=child, measure=cast.rises, fault="gripped", value=9, side="L",
                protocol=Protocol.objects.get(measure=cast.rises), attempt=attempt, by=cast.teacher,
                taken_on=TODAY - dt.timedelta(days=days_ago),
            )
    plan(cast, "heel-press")
    programme = as_teacher.get(reverse("progress:programme", args=[cast.class_group.pk])).content.decode()
    assert "Rises: gripped" in programme
    card = as_teacher.get(reverse("progress:barre-card", args=[cast.class_group.pk])).content.decode()
    assert "Ama and Bettina" in card and "gripped" not in card.split("Together")[1]
