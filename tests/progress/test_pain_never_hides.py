"""No sequence of what people can do deletes or hides a pain report, or lets a stop sign pass without an answer."""
import datetime as dt
import uuid

import pytest
from django.db import transaction
from django.db.models import ProtectedError
from django.utils import timezone
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test

from progress.actions import answering, follow_ups, returning
from progress.actions.day import ClassDay, state_attendance
from progress.actions.pain import report_pain, take_back_report
from progress.models import FollowUp, PainAnswer, PainReport
from progress.queries import resting_students
from progress.queries.pain import referral_of_follow_up, report_words
from progress.queries.story import PAIN, story
from progress.rules import pain
from studio.actions import Refused
from studio.models import User

PLACES = [["L-achilles"], ["L-heel", "R-heel"], ["R-ankle-outer"], ["back"]]
KINDS = [kind for kind, _words in PainAnswer.ANSWERS]
PEOPLE = st.sampled_from(["owner", "teacher"])


def refused_or_done(act, *args, **kwargs) -> bool:
    """True where it was done; a refusal is an answer too."""
    try:
        with transaction.atomic():
            act(*args, **kwargs)
    except Refused:
        return False
    return True


class Studio(RuleBasedStateMachine):
    """A teacher, an owner and a child over some weeks. `told`: every report ever made, as it was made."""

    cast = None

    def __init__(self):
        super().__init__()
        self.frame = transaction.atomic()
        self.frame.__enter__()
        self.today = self.cast.screening.held_on
        self.told: dict[int, tuple] = {}
        self.answers = 0

    def teardown(self):
        transaction.set_rollback(True)
        self.frame.__exit__(None, None, None)

    def person(self, name: str) -> User:
        return getattr(self.cast, name)

    @property
    def student(self):
        return self.cast.ama

    @rule(days=st.integers(1, 9))
    def days_go_by(self, days):
        self.today += dt.timedelta(days=days)

    @rule(
        by=PEOPLE, places=st.sampled_from(PLACES), feels=st.sampled_from([key for key, _words in pain.FEELS]),
        since=st.sampled_from(["", "today", "longer"]), number=st.sampled_from([None, 2, 9]),
    )
    def it_hurts(self, by, places, feels, since, number):
        row = report_pain(
            key=uuid.uuid4(), student=self.student, class_group=self.cast.class_group, screening=None, measure=None,
            places=places, feels=feels, intensity=number, stopped="", note="", since=since, reported_on=self.today,
            by=self.person(by),
        )
        self.told[row.pk] = as_told(row)

    @precondition(lambda self: self.told)
    @rule(by=PEOPLE, which=st.integers(0, 99))
    def tapped_by_mistake(self, by, which):
        row = PainReport.objects.get(pk=sorted(self.told)[which % len(self.told)])
        refused_or_done(take_back_report, report=row, by=self.person(by), on=self.today)

    @rule(by=PEOPLE, kind=st.sampled_from(KINDS), step=st.sampled_from([None, 0, 3, 8]), named=st.booleans())
    def answer_the_first(self, by, kind, step, named):
        follow_up = FollowUp.objects.filter(closed_at__isnull=True).first()
        if follow_up is None:
            return
        said = {"said_by": "Dr Vane", "said_on": self.today, "allowed": "two feet", "allows": "all"} if named else {}
        was_referred = referral_of_follow_up(follow_up)
        done = refused_or_done(
            answering.answer_pain, follow_up=follow_up, answer=answering.Answer(kind, "Seen to.", step, **said),
            closed_on=self.today, by=self.person(by),
        )
        if done and was_referred:
            assert kind == PainAnswer.CLINICIAN or by == "owner"

    @rule(by=PEOPLE)
    def close_it_as_if_it_were_no_pain(self, by):
        for follow_up in FollowUp.objects.filter(closed_at__isnull=True):
            assert not refused_or_done(
                follow_ups.close_follow_up, follow_up=follow_up, note="Done.", closed_on=self.today,
                by=self.person(by),
            )

    @rule(by=PEOPLE, which=st.integers(0, 9))
    def open_it_again(self, by, which):
        closed = list(FollowUp.objects.filter(closed_at__isnull=False))
        if closed:
            follow_up = closed[which % len(closed)]
            refused_or_done(
                answering.reopen_pain, follow_up=follow_up, why="It still hurts.", on=self.today, by=self.person(by)
            )

    @rule(by=PEOPLE, up=st.booleans())
    def move_on_the_ladder(self, by, up):
        if up:
            state_attendance(
                key=uuid.uuid4(), day=ClassDay(self.cast.class_group, self.cast.term, self.today),
                present=[self.student], absent=[], by=self.cast.owner,
            )
            log = self.cast.class_group.logs.get(held_on=self.today)
            refused_or_done(
                returning.move_up, student=self.student, class_log=log, today=self.today, note="", by=self.person(by)
            )
        else:
            refused_or_done(returning.move_back, student=self.student, on=self.today, note="", by=self.person(by))

    @precondition(lambda self: self.told)
    @rule()
    def try_to_delete(self):
        for delete in (PainReport.objects.first().delete, PainReport.objects.all().delete, self.student.delete):
            with pytest.raises((TypeError, ProtectedError)), transaction.atomic():
                delete()

    @invariant()
    def nothing_told_is_lost_or_changed(self):
        assert {row.pk: as_told(row) for row in PainReport.objects.all()} == self.told

    @invariant()
    def answers_only_grow(self):
        now = PainAnswer.objects.count()
        assert now >= self.answers
        self.answers = now

    @invariant()
    def no_stop_sign_passes_without_an_answer(self):
        waiting = [row for row in PainReport.objects.all() if row.answer is None and pain.is_stop_sign(row.asks)]
        for row in waiting:
            assert row.follow_ups.filter(kind=FollowUp.STOP_SIGN, closed_at__isnull=True).exists()
        if waiting:
            assert resting_students([self.student.pk], now=timezone.now()) == {self.student.pk}

    @invariant()
    def every_report_is_on_her_story(self):
        said = [entry.words for entry in story(self.student, kind=PAIN, now=timezone.now())]
        for row in PainReport.objects.all():
            assert any(report_words(row) in words for words in said)


def as_told(row: PainReport) -> tuple:
    return (
        row.student_id, tuple(row.places), row.feels, row.since, row.intensity, row.asks, row.reported_on,
        row.reported_by_id, row.reported_at,
    )


def test_no_sequence_of_actions_deletes_or_hides_a_pain_report(cast):
    class OfThisCast(Studio):
        pass

    OfThisCast.cast = cast
    run_state_machine_as_test(OfThisCast, settings=settings(
        max_examples=25, stateful_step_count=25, deadline=None, derandomize=True,
        suppress_health_check=list(HealthCheck), phases=[Phase.generate],  # making it smaller takes minutes
    ))
