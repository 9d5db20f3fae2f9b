"""A student's story holds everything once, newest first; the note for a clinician tells the same and no diagnosis."""
import datetime as dt
import uuid
from decimal import Decimal

import pytest
from django.utils import timezone

from progress.actions import answering, measuring, returning
from progress.actions.classwork import class_log
from progress.actions.day import ClassDay, state_attendance
from progress.actions.follow_ups import add_note
from progress.actions.growth import record_height
from progress.actions.pain import report_pain
from progress.actions.reviews import decide, open_review, say_points
from progress.models import ClassLog, Exercise, FollowUp, PainAnswer
from progress.queries.pointe_weeks import pointe_ladder
from progress.queries.story import KINDS, story
from screening.actions import Entry
from studio.models import Stage
from tests.family.conftest import agree


@pytest.fixture
def full_story(cast):
    """A result, pain with its answer and a step, a note, a height, another stage, a class."""
    on = cast.screening.held_on
    agree(cast, cast.ama)
    measuring.record_result(
        key=uuid.uuid4(), screening=cast.screening, student=cast.ama, measure=cast.rises, side="L",
        entry=Entry(value=Decimal(14)), by=cast.teacher,
    )
    report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=cast.screening,
        measure=cast.rises, places=["L-achilles"], feels=["sharp"], intensity=6, stopped="exercise", since="days",
        note="since Sunday’s fair", reported_on=on - dt.timedelta(days=3), by=cast.teacher,
    )
    add_note(follow_up=FollowUp.objects.get(), text="Mother told at the door.", by=cast.teacher)
    answering.answer_pain(
        follow_up=FollowUp.objects.get(), closed_on=on, by=cast.teacher,
        answer=answering.Answer(
            PainAnswer.CLINICIAN, "Papers in the office.", 3, said_by="Dr Vane", said_on=on, allowed="two feet only",
            allows="all",
        ),
    )
    day = ClassDay(cast.class_group, cast.term, on + dt.timedelta(days=1))
    state_attendance(key=uuid.uuid4(), day=day, present=[cast.ama], absent=[], by=cast.teacher)
    log = ClassLog.objects.get()
    returning.move_up(student=cast.ama, class_log=log, today=log.held_on, note="", by=cast.teacher)
    record_height(student=cast.ama, height_cm=Decimal("148.2"), measured_on=on, by=cast.teacher)
    cast.ama.stage = Stage.objects.get(key="first-year")
    measuring.save_particulars(student=cast.ama, by=cast.owner)
    class_log.log_change(
        key=uuid.uuid4(), day=ClassDay(cast.class_group, cast.term, on), student=cast.ama,
        exercise=Exercise.objects.get(key="short-foot"), change="left_out", by=cast.teacher,
    )
    review = open_review(student=cast.ama, why="The family asked.", on=on, by=cast.teacher)
    said = {"feet": ("not_yet", "Tires on the left.")}
    say_points(review=review, said=said, whose="teacher", said_by="", said_on=on, by=cast.teacher)
    decide(review=review, decided_on=on, decided="We wait.", by=cast.teacher)
    ladder = pointe_ladder()
    ladder.save()
    cast.ama.pointe_steps.create(ladder=ladder, step=1, note="Slowly.", on=on, by=cast.teacher)
    cast.ama.pointe_times.create(class_group=cast.class_group, held_on=on, minutes=12, said="fine", by=cast.teacher)
    return cast


TOLD = {
    "measured": ["Rises: left 14"],
    "pain": [
        "Sharp, pin-point, left Achilles, 6 of 10; for 1 to 3 days; could go on: not this exercise; "
        "since Sunday’s fair",
        "Dr Vane on 24 March; allowed: two feet only", "Rises on two feet", "Rises on one foot; centre without jumps",
    ],
    "follow-ups": ["Mother told at the door.", "Stop signs, closed: Papers in the office."],
    "reviews": [
        "A pointe review was opened. The family asked.", "Feet and ankles: not yet. Tires on the left.",
        "Decided: We wait.", "Step on pointe: At the barre, two hands, two feet, 15 minutes. Slowly.",
        "12 minutes on pointe; heel and big toe: fine",
    ],
    "classes": ["Joined Pre-pointe A, Spring term", "Stage: first year on pointe"],
    "growth": ["Height 148.2 cm"],
    "work": ["Pre-pointe A: Short foot (doming): left out"],
}


def test_every_kind_is_told(full_story):
    assert set(TOLD) == {key for key, _words in KINDS}
    for kind, lines in TOLD.items():
        said = [entry.words for entry in story(full_story.ama, kind=kind, now=timezone.now())]
        for line in lines:
            assert sum(line in words for words in said) == 1, (kind, line, said)


def test_everything_together_is_each_kind_once_newest_first(full_story):
    everything = story(full_story.ama, now=timezone.now())
    by_kind = [entry for key, _words in KINDS for entry in story(full_story.ama, kind=key, now=timezone.now())]
    assert sorted(map(repr, everything)) == sorted(map(repr, by_kind))
    assert [entry.on for entry in everything] == sorted((entry.on for entry in everything), reverse=True)


def test_the_page_shows_one_kind_and_an_unknown_one_as_everything(as_teacher, full_story):
    address = f"/students/{full_story.ama.pk}/story/"
    assert "Height 148.2 cm" not in as_teacher.get(address, {"kind": "pain"}).content.decode()
    assert "Height 148.2 cm" in as_teacher.get(address, {"kind": "gossip"}).content.decode()


def test_a_stage_is_noted_once_whoever_keeps_the_particulars_again(full_story):
    measuring.save_particulars(student=full_story.ama, by=full_story.owner)
    assert [change.stage.key for change in full_story.ama.stage_changes.all()] == ["first-year"]


def test_the_note_tells_what_the_story_tells(as_teacher, full_story):
    page = as_teacher.get(f"/students/{full_story.ama.pk}/referral-note/").content.decode()
    for told in ("Sharp, pin-point, left Achilles, 6 of 10", "could go on: not this exercise", "for 1 to 3 days",
                 "Mother told at the door.", "Dr Vane on 24 March; allowed: two feet only", "in rises", "<svg"):
        assert told in page
    assert 'value="L-achilles" checked' in " ".join(page.split())


def test_the_note_says_no_verdict_and_no_diagnosis(as_teacher, full_story):
    page = as_teacher.get(f"/students/{full_story.ama.pk}/referral-note/").content.decode().lower()
    assert not [word for word in ("stalled", "slipping", "tendin", "fracture", "sprain", "strain") if word in page]
    assert "no diagnosis" in page and "consent" in page


def test_a_mistaken_report_is_on_the_story_and_not_in_the_note(as_teacher, cast):
    agree(cast, cast.ama)
    row = report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=None, measure=None,
        places=["R-heel"], feels=["sharp"], intensity=None, stopped="", note="", by=cast.teacher,
        reported_on=cast.screening.held_on,
    )
    PainAnswer.objects.create(report=row, kind=PainAnswer.MISTAKE, note="Tapped.", by=cast.teacher)
    assert any("right heel" in entry.words for entry in story(cast.ama, now=timezone.now()))
    note = " ".join(as_teacher.get(f"/students/{cast.ama.pk}/referral-note/").content.decode().split())
    assert "Nothing reported in the last 13 weeks." in note and 'value="R-heel" checked' not in note
