"""The way back: up after a class without pain, back on pain; what a step allows is one rule for every page."""
import datetime as dt
import uuid

import pytest

from progress.actions import answering, returning
from progress.actions.classwork.class_log import ClassDay, state_attendance
from progress.actions.pain import report_pain, take_back_report
from progress.models import FollowUp, PainAnswer, ReturnStep
from progress.queries.resting import ladder_in_force, resting_students, rests
from progress.rules.resting import ONE_FOOT, TWO_FEET, UNLOADED
from studio.actions import Refused

DAY = dt.timedelta(days=1)


@pytest.fixture
def hurt_on(cast):
    return cast.screening.held_on - 10 * DAY


def report(cast, on, feels=("sharp",)):
    return report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=None, measure=None,
        places=["L-achilles"], feels=feels, intensity=None, stopped="", note="", reported_on=on, by=cast.teacher,
    )


def clear(cast, on, step):
    answering.answer_pain(
        follow_up=FollowUp.objects.get(closed_at__isnull=True), by=cast.teacher, closed_on=on,
        answer=answering.Answer(
            PainAnswer.CLINICIAN, "Seen.", step, said_by="Dr Vane", said_on=on, allowed="two feet only"
        ),
    )


@pytest.fixture
def on_step_three(cast, hurt_on):
    report(cast, hurt_on)
    clear(cast, hurt_on + DAY, 3)
    return hurt_on + DAY


def test_a_clearance_puts_her_on_the_step_that_was_allowed_by_whom_and_when(cast, on_step_three):
    step = ReturnStep.objects.get()
    assert (step.step, step.kind, step.on, step.by) == (3, ReturnStep.START, on_step_three, cast.teacher)


def test_on_a_step_of_two_feet_she_still_leaves_out_one_foot(cast, on_step_three):
    rest = rests([cast.ama.pk])[cast.ama.pk]
    assert not rest.forbids(TWO_FEET)
    assert rest.forbids(ONE_FOOT)
    assert resting_students([cast.ama.pk]) == {cast.ama.pk}


def test_one_step_up_for_one_class(cast, on_step_three):
    move = {"student": cast.ama, "note": "", "by": cast.teacher}
    returning.move_up(class_on=on_step_three + DAY, **move)
    with pytest.raises(Refused):
        returning.move_up(class_on=on_step_three + DAY, **move)
    returning.move_up(class_on=on_step_three + 2 * DAY, **move)
    assert returning.current_step(cast.ama).step == 5
    assert resting_students([cast.ama.pk]) == set()


def test_the_last_step_is_full_class_and_ends_the_way(cast, on_step_three):
    for later in range(1, 6):
        returning.move_up(student=cast.ama, class_on=on_step_three + later * DAY, note="", by=cast.teacher)
    assert returning.current_step(cast.ama) is None
    assert rests([cast.ama.pk]) == {}
    with pytest.raises(Refused):
        returning.move_up(student=cast.ama, class_on=on_step_three + 7 * DAY, note="", by=cast.teacher)


def test_pain_on_the_way_takes_her_back_a_step_and_nobody_moves_up_over_it(cast, on_step_three):
    report(cast, on_step_three + DAY, feels=["dull"])
    assert [step.kind for step in ReturnStep.objects.all()] == [ReturnStep.START, ReturnStep.BACK]
    assert returning.current_step(cast.ama).step == 2


def test_an_expected_ache_does_not_take_her_back(cast, on_step_three):
    report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=None, measure=None,
        places=["L-calf", "R-calf"], feels=["dull"], intensity=1, stopped="", note="", reported_on=on_step_three + DAY,
        by=cast.teacher,
    )
    assert returning.current_step(cast.ama).step == 3


def test_a_report_by_mistake_puts_her_back_where_she_stood(cast, on_step_three):
    row = report(cast, on_step_three + DAY)
    take_back_report(report=row, by=cast.teacher, on=on_step_three + DAY)
    assert returning.current_step(cast.ama).step == 3
    assert ReturnStep.objects.count() == 3


def test_a_stop_sign_that_waits_stops_every_move_up(cast, on_step_three):
    report(cast, on_step_three + DAY)
    with pytest.raises(Refused):
        returning.move_up(student=cast.ama, class_on=on_step_three + 3 * DAY, note="", by=cast.teacher)


def test_a_doctors_sign_rests_her_from_everything(cast, hurt_on):
    report(cast, hurt_on, feels=["limps"])
    assert rests([cast.ama.pk])[cast.ama.pk].forbids(UNLOADED)


def test_a_settled_report_goes_straight_into_full_class_without_a_row(cast, hurt_on):
    report(cast, hurt_on)
    answering.answer_pain(
        follow_up=FollowUp.objects.get(), closed_on=hurt_on + DAY, by=cast.teacher,
        answer=answering.Answer(PainAnswer.TEACHER, "Gone after a minute.", 8),
    )
    assert not ReturnStep.objects.exists()
    assert rests([cast.ama.pk]) == {}


def test_the_first_ladder_says_that_it_needs_a_clinician(as_owner, cast):
    assert ladder_in_force().approved_by == ""
    assert "clinician’s approval before use" in as_owner.get("/office/return-steps/").content.decode()


def test_the_owner_keeps_a_ladder_of_her_own_and_who_is_on_the_way_stays_on_hers(as_owner, cast, on_step_three):
    as_owner.post("/office/return-steps/", {
        "steps": "Sit\nStand\nDance", "loads_both_from": 1, "loads_one_from": 2, "approved_by": "Dr Vane",
        "approved_on": "2026-03-01",
    })
    kept = ladder_in_force()
    assert [(step["words"], step["loads"]) for step in kept.steps] == [("Sit", ""), ("Stand", "both"), ("Dance", "one")]
    assert (kept.approved_by, kept.made_by) == ("Dr Vane", cast.owner)
    assert returning.current_step(cast.ama).words == "Rises on two feet"


def test_the_page_moves_her_up_and_says_why_not(as_teacher, cast, on_step_three):
    address = f"/students/{cast.ama.pk}/way-back/"
    as_teacher.post(address, {"move": "up", "on": str(on_step_three + DAY), "note": "no pain"})
    again = as_teacher.post(address, {"move": "up", "on": str(on_step_three + DAY), "note": "no pain"})
    assert again.status_code == 422 and "One step for one class" in again.content.decode()
    assert returning.current_step(cast.ama).step == 4


def test_a_class_she_missed_moves_nobody_up(cast, on_step_three):
    day = ClassDay(cast.class_group, cast.term, on_step_three + DAY)
    state_attendance(key=uuid.uuid4(), day=day, present=[], absent=[cast.ama], by=cast.teacher)
    with pytest.raises(Refused, match="absent"):
        returning.move_up(student=cast.ama, class_on=on_step_three + DAY, note="", by=cast.teacher)
    returning.move_up(student=cast.ama, class_on=on_step_three + 2 * DAY, note="", by=cast.teacher)
