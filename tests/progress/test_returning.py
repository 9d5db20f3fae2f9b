"""The way back: up after a class without pain, back on pain; what a step allows is one rule for every page."""
import datetime as dt
import uuid

import pytest
from django.utils import timezone

from progress.actions import answering, returning
from progress.actions.day import ClassDay, state_attendance
from progress.actions.pain import report_pain, take_back_report
from progress.models import ClassLog, FollowUp, PainAnswer, ReturnLadder, ReturnStep
from progress.queries.resting import ladder_in_force, resting_students, rests
from progress.rules.resting import ONE_FOOT, TWO_FEET, UNLOADED
from studio.actions import Refused
from studio.family.actions import record_consent
from studio.models import Consent, Stage
from tests.reading import words_of

DAY = dt.timedelta(days=1)


@pytest.fixture
def hurt_on(cast):
    return cast.screening.held_on - 10 * DAY


def report(cast, on, feels=("sharp",), places=("L-achilles",)):
    return report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=None, measure=None,
        places=list(places), feels=feels, intensity=None, stopped="", note="", reported_on=on, by=cast.teacher,
    )


def clear(cast, on, step, allows="all", **more):
    answering.answer_pain(
        follow_up=FollowUp.objects.get(closed_at__isnull=True), by=cast.teacher, closed_on=on,
        answer=answering.Answer(
            PainAnswer.CLINICIAN, "Seen.", step, said_by="Dr Vane", said_on=on, allowed="two feet only",
            allows=allows, **more,
        ),
    )


def held(cast, on, *, came=True):
    """A class of that day with her in it, or without."""
    state_attendance(
        key=uuid.uuid4(), day=ClassDay(cast.class_group, cast.term, on), present=[cast.ama] if came else [],
        absent=[] if came else [cast.ama], by=cast.teacher,
    )
    return ClassLog.objects.get(class_group=cast.class_group, held_on=on)


@pytest.fixture
def up(cast, time_machine):
    """One step up in the evening of a class that was held on that day, or on an earlier one."""
    def go(on, log=None):
        time_machine.move_to(dt.datetime.combine(on, dt.time(18), dt.UTC), tick=False)
        return returning.move_up(student=cast.ama, class_log=log or held(cast, on), today=on, note="", by=cast.teacher)
    return go


@pytest.fixture
def on_step_three(cast, hurt_on):
    report(cast, hurt_on)
    clear(cast, hurt_on + DAY, 3)
    return hurt_on + DAY


def test_a_clearance_puts_her_on_the_step_that_was_allowed_by_whom_and_when(cast, on_step_three):
    step = ReturnStep.objects.get()
    assert (step.step, step.kind, step.on, step.by) == (3, ReturnStep.START, on_step_three, cast.teacher)


def test_on_a_step_of_two_feet_she_still_leaves_out_one_foot(cast, on_step_three):
    rest = rests([cast.ama.pk], now=timezone.now())[cast.ama.pk]
    assert not rest.forbids(TWO_FEET)
    assert rest.forbids(ONE_FOOT)
    assert resting_students([cast.ama.pk], now=timezone.now()) == {cast.ama.pk}


def test_one_step_up_for_one_class(cast, on_step_three, up):
    up(on_step_three + DAY)
    with pytest.raises(Refused):
        up(on_step_three + DAY)
    step = up(on_step_three + 2 * DAY)
    assert (step.step, step.class_log.held_on) == (5, on_step_three + 2 * DAY)
    assert returning.current_step(cast.ama).step == 5
    assert resting_students([cast.ama.pk], now=timezone.now()) == set()


def test_five_steps_are_not_taken_on_one_evening(cast, on_step_three, up):
    logs = [held(cast, on_step_three + later * DAY) for later in range(1, 6)]
    up(on_step_three + 6 * DAY, logs[0])
    for log in logs[1:]:
        with pytest.raises(Refused, match="One step a day"):
            up(on_step_three + 6 * DAY, log)
    up(on_step_three + 7 * DAY, logs[1])
    assert returning.current_step(cast.ama).step == 5


@pytest.mark.parametrize(("later", "may"), [(-1, False), (0, False), (1, True)])
def test_the_class_of_a_step_up_comes_after_the_day_of_the_last_step(cast, on_step_three, up, later, may):
    log = held(cast, on_step_three + later * DAY)
    if may:
        up(on_step_three + 2 * DAY, log)
    else:
        with pytest.raises(Refused, match="logged class"):
            up(on_step_three + 2 * DAY, log)


@pytest.mark.parametrize(("later", "may"), [(-1, True), (0, True), (1, False)])
def test_the_class_of_a_step_up_was_held_by_today(cast, on_step_three, up, later, may):
    today = on_step_three + 3 * DAY
    log = held(cast, today + later * DAY)
    if may:
        up(today, log)
    else:
        with pytest.raises(Refused, match="logged class"):
            up(today, log)


def test_the_last_step_is_full_class_and_ends_the_way(cast, on_step_three, up):
    # Not on pointe: from all jumps straight into full class.
    for later in range(1, 5):
        up(on_step_three + later * DAY)
    assert [step.step for step in ReturnStep.objects.all()] == [3, 4, 5, 6, 8]
    assert returning.current_step(cast.ama) is None
    assert rests([cast.ama.pk], now=timezone.now()) == {}
    with pytest.raises(Refused):
        up(on_step_three + 7 * DAY)


def test_who_is_on_pointe_goes_through_pointe_work(cast, on_step_three, up):
    cast.ama.stage = Stage.objects.get(key="first-year")
    cast.ama.save()
    for later in range(1, 6):
        up(on_step_three + later * DAY)
    assert [step.step for step in ReturnStep.objects.all()] == [3, 4, 5, 6, 7, 8]


# Of the steps 3 (two feet), 4 (one foot), 5 (small jumps), 6 (jumps), 8: the highest that each word allows.
CEILINGS = {"both": 3, "one": 4, "small_jumps": 5, "no_pointe": 8, "all": 8}


@pytest.mark.parametrize(("allows", "highest"), CEILINGS.items(), ids=CEILINGS)
def test_nobody_goes_above_what_the_clinician_allowed(cast, hurt_on, up, allows, highest):
    report(cast, hurt_on)
    clear(cast, hurt_on + DAY, 3, allows)
    for later in range(2, 8):
        try:
            up(hurt_on + later * DAY)
        except Refused as refused:
            assert returning.current_step(cast.ama) is None or "two feet only" in str(refused)
    assert ReturnStep.objects.last().step == highest


def test_a_clearance_names_no_step_above_what_it_allows(cast, hurt_on):
    report(cast, hurt_on)
    with pytest.raises(Refused, match="two feet only"):
        clear(cast, hurt_on + DAY, 4, "both")
    clear(cast, hurt_on + DAY, 3, "both")
    step = ReturnStep.objects.get()
    assert (step.clearance.allows, step.allows) == ("both", "both")
    assert rests([cast.ama.pk], now=timezone.now())[cast.ama.pk].said == "two feet only"


def test_the_first_step_never_allows_more_than_nothing_where_nothing_is_allowed(cast, hurt_on):
    report(cast, hurt_on)
    clear(cast, hurt_on + DAY, 0, "nothing")
    assert rests([cast.ama.pk], now=timezone.now())[cast.ama.pk].allows == "nothing"


def test_a_teachers_answer_on_the_way_goes_no_further_and_keeps_the_ceiling(cast, hurt_on):
    report(cast, hurt_on)
    clear(cast, hurt_on + DAY, 3, "both")
    report(cast, hurt_on + 2 * DAY, places=["R-knee"], feels=["dull"])
    answer = {"follow_up": FollowUp.objects.get(closed_at__isnull=True), "closed_on": hurt_on + 3 * DAY,
              "by": cast.teacher}
    with pytest.raises(Refused, match="no further"):
        answering.answer_pain(answer=answering.Answer(PainAnswer.TEACHER, "Fine.", 8), **answer)
    answering.answer_pain(answer=answering.Answer(PainAnswer.TEACHER, "Fine.", 2), **answer)
    now = returning.current_step(cast.ama)
    assert (now.step, now.clearance.allows) == (2, "both")


def test_a_new_clearance_on_the_way_raises_the_ceiling_or_lowers_the_step(cast, hurt_on, up):
    report(cast, hurt_on)
    clear(cast, hurt_on + DAY, 3, "both")
    said = {"student": cast.ama, "said_by": "Dr Vane", "allowed": "all but pointe", "until_on": None,
            "see_again_on": None, "note": "", "by": cast.teacher}
    returning.renew_clearance(said_on=hurt_on + 5 * DAY, on=hurt_on + 5 * DAY, allows="one", **said)
    assert returning.current_step(cast.ama).step == 3
    up(hurt_on + 6 * DAY)
    returning.renew_clearance(said_on=hurt_on + 7 * DAY, on=hurt_on + 7 * DAY, allows="both", **said)
    assert returning.current_step(cast.ama).step == 3
    with pytest.raises(Refused):
        returning.renew_clearance(said_on=hurt_on + 9 * DAY, on=hurt_on + 8 * DAY, allows="both", **said)
    with pytest.raises(Refused):
        returning.renew_clearance(said_on=hurt_on + 7 * DAY, on=hurt_on + 8 * DAY, allows="", **said)


def test_who_saw_her_and_the_words_stand_on_the_follow_up_and_on_the_way_back(as_teacher, cast, hurt_on):
    report(cast, hurt_on)
    clear(cast, hurt_on + DAY, 3, "both", until_on=hurt_on + 21 * DAY, see_again_on=hurt_on + 20 * DAY)
    closed = FollowUp.objects.get(kind=FollowUp.STOP_SIGN)
    pages = [f"/follow-ups/{closed.pk}/", f"/students/{cast.ama.pk}/way-back/"]
    for page in (as_teacher.get(path).content.decode() for path in pages):
        for words in ("Dr Vane", "15 March", "two feet only", "4 April", "3 April"):
            assert words in page


def test_the_day_on_which_she_is_to_be_seen_again_waits_on_the_list(as_teacher, cast, hurt_on):
    again = hurt_on + 20 * DAY
    report(cast, hurt_on)
    clear(cast, hurt_on + DAY, 3, "both", see_again_on=again)
    waiting = FollowUp.objects.get(kind=FollowUp.SEE_AGAIN)
    assert (waiting.due_on, waiting.acts, waiting.is_open) == (again, cast.teacher, True)
    page = words_of(as_teacher.get("/follow-ups/"))
    assert "To be seen again" in page and "Dr Vane, seen on" in page and "two feet only" in page


@pytest.mark.parametrize(("named", "is_open"), [(None, False), (30 * DAY, True)])
def test_a_new_clearance_answers_that_day_or_moves_it(cast, hurt_on, named, is_open):
    report(cast, hurt_on)
    clear(cast, hurt_on + DAY, 3, "both", see_again_on=hurt_on + 20 * DAY)
    returning.renew_clearance(
        student=cast.ama, said_by="Dr Vane", said_on=hurt_on + 19 * DAY, allowed="one foot", allows="one",
        until_on=None, see_again_on=named and hurt_on + named, note="", on=hurt_on + 19 * DAY, by=cast.teacher,
    )
    waiting = FollowUp.objects.get(kind=FollowUp.SEE_AGAIN)
    assert waiting.is_open == is_open
    assert "Seen by Dr Vane on" in waiting.notes.last().text
    assert waiting.due_on == hurt_on + (named or 20 * DAY)


def test_where_the_family_agreed_to_no_pain_notes_that_day_is_not_shown(as_teacher, cast, hurt_on):
    report(cast, hurt_on)
    clear(cast, hurt_on + DAY, 3, "both", see_again_on=hurt_on + 20 * DAY)
    record_consent(
        student=cast.ama, scopes=[Consent.PAIN], is_given=False, said_by="Her mother", way=Consent.FORM,
        at=timezone.now(), by=cast.owner,
    )
    assert "To be seen again" not in words_of(as_teacher.get("/follow-ups/"))


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


def test_a_stop_sign_that_waits_stops_every_move_up(cast, on_step_three, up):
    report(cast, on_step_three + DAY)
    with pytest.raises(Refused):
        up(on_step_three + 3 * DAY)


def test_a_doctors_sign_rests_her_from_everything(cast, hurt_on):
    report(cast, hurt_on, feels=["limps"])
    assert rests([cast.ama.pk], now=timezone.now())[cast.ama.pk].forbids(UNLOADED)


def test_a_settled_ache_goes_straight_into_full_class_without_a_row(cast, hurt_on):
    report(cast, hurt_on, feels=["dull"], places=["L-sole"])
    answering.answer_pain(
        follow_up=FollowUp.objects.get(), closed_on=hurt_on + DAY, by=cast.teacher,
        answer=answering.Answer(PainAnswer.TEACHER, "Gone after a minute.", 8),
    )
    assert not ReturnStep.objects.exists()
    assert rests([cast.ama.pk], now=timezone.now()) == {}


def test_the_first_ladder_says_that_it_needs_a_clinician(as_owner, cast):
    assert ladder_in_force().approved_by == ""
    assert "clinician’s approval before use" in as_owner.get("/office/return-steps/").content.decode()


def test_the_owner_keeps_a_ladder_of_her_own_and_who_is_on_the_way_stays_on_hers(as_owner, cast, on_step_three):
    typed = {"approved_by": "Dr Vane", "approved_on": "2026-03-01"}
    steps = [("Sit", ""), ("Stand", "both"), ("Dance", "all")]
    for at, (words, loads) in enumerate(steps):
        typed |= {f"words_{at}": words, f"loads_{at}": loads}
    as_owner.post("/office/return-steps/", typed)
    kept = ladder_in_force()
    assert [(step["words"], step["loads"]) for step in kept.steps] == steps
    assert (kept.approved_by, kept.made_by) == ("Dr Vane", cast.owner)
    assert returning.current_step(cast.ama).words == "Rises on two feet"


@pytest.mark.parametrize(("steps", "why"), [
    ([("Sit", ""), ("Jump", "jumps"), ("Rise", "both"), ("Dance", "all")], "gentlest"),
    ([("Sit", ""), ("Rise", "both")], "full class"), ([("Dance", "all")], "Between 2 and 20"),
])
def test_a_ladder_out_of_order_is_refused_with_a_sentence(as_owner, cast, steps, why):
    typed = {}
    for at, (words, loads) in enumerate(steps):
        typed |= {f"words_{at}": words, f"loads_{at}": loads}
    page = as_owner.post("/office/return-steps/", typed)
    assert page.status_code == 422 and why in page.content.decode()
    assert not ReturnLadder.objects.filter(made_by=cast.owner).exists()


def test_the_page_moves_her_up_and_says_why_not(as_teacher, cast, on_step_three):
    address = f"/students/{cast.ama.pk}/way-back/"
    assert "No class with the student there" in as_teacher.get(address).content.decode()
    log = held(cast, on_step_three + DAY)
    later = held(cast, on_step_three + 2 * DAY)
    assert "15 March" not in as_teacher.get(address).content.decode().split("</select>")[0].split("<select")[-1]
    as_teacher.post(address, {"move": "up", "class_log": log.pk, "note": "no pain"})
    again = as_teacher.post(address, {"move": "up", "class_log": later.pk, "note": "no pain"})
    assert again.status_code == 422 and "One step a day" in again.content.decode()
    assert returning.current_step(cast.ama).step == 4


def test_the_page_keeps_a_new_clearance(as_teacher, cast, on_step_three):
    address = f"/students/{cast.ama.pk}/way-back/"
    typed = {"said_by": "Dr Vane", "said_on": "2026-03-20", "allowed": "one foot, slowly", "allows": "one"}
    assert as_teacher.post(address, typed | {"allows": ""}).status_code == 422
    assert as_teacher.post(address, typed).status_code == 302
    assert "one foot, slowly" in as_teacher.get(address).content.decode()


def test_a_class_she_missed_moves_nobody_up(cast, on_step_three, up):
    with pytest.raises(Refused, match="student there"):
        up(on_step_three + DAY, held(cast, on_step_three + DAY, came=False))
    up(on_step_three + 2 * DAY)
