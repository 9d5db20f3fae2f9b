"""Who is out, as tablets are told: reports, answers, steps, absences and consents each change what is told at once."""
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from progress.actions import measuring
from progress.actions.day import ClassDay, state_attendance
from progress.actions.follow_ups import open_follow_up
from progress.actions.pain import take_back_report
from progress.actions.returning import start_return
from progress.models import FollowUp
from progress.queries.barre.out import out_of
from screening.actions import Entry
from screening.models import Result
from studio.family.actions import record_consent
from studio.models import Consent
from tests import factories
from tests.progress.test_despite_rest import hurts


def out(cast):
    return out_of(cast.class_group, [cast.ama, cast.bettina], cast.screening.held_on, now=timezone.now())


def take_consent_back(cast, scope=Consent.MEASUREMENTS):
    record_consent(
        student=cast.ama, scopes=[scope], is_given=False, said_by="Her mother", way=Consent.FORM, at=timezone.now(),
        by=cast.owner,
    )


def be_absent(cast):
    day = ClassDay(cast.class_group, cast.term, cast.screening.held_on)
    state_attendance(key=uuid.uuid4(), day=day, present=[], absent=[cast.ama], by=cast.teacher)


FACTS = {
    "a report": hurts,
    "pain to be seen": lambda cast: open_follow_up(
        student=cast.ama, kind=FollowUp.PAIN_LASTS, class_group=cast.class_group, opened_on=cast.screening.held_on
    ),
    "a step": lambda cast: start_return(
        student=cast.ama, step=0, on=cast.screening.held_on, note="", by=cast.owner
    ),
    "an absence": be_absent,
    "a consent": take_consent_back,
}


@pytest.mark.parametrize("fact", FACTS)
def test_each_fact_changes_the_stamp_of_the_news(cast, as_teacher, fact: str):
    address = reverse("progress:news", args=[cast.screening.pk, "rises"])
    before = as_teacher.get(address).json()["stamp"]
    assert as_teacher.get(address, {"seen": before}).status_code == 204
    FACTS[fact](cast)
    told = as_teacher.get(address, {"seen": before}).json()
    assert told["stamp"] != before
    assert str(cast.ama.pk) in told["out"]["students"] or cast.ama.pk in told["out"]["absent"]
    log = reverse("progress:log-news", args=[cast.class_group.pk])
    assert as_teacher.get(log).json()["out"]["students"] == told["out"]["students"]


def test_what_was_told_by_mistake_is_untold_on_every_tablet(cast):
    before = out(cast)
    report = hurts(cast)
    assert out(cast).stamp != before.stamp
    take_back_report(report=report, by=cast.teacher, on=report.reported_on)
    assert out(cast).stamp == before.stamp


def test_a_tablet_is_told_which_reports_are_known_those_taken_back_among_them(cast):
    """So that it keeps none of its own that the studio knows of, however its clock goes."""
    assert out(cast).told["reports"] == []
    reports = [hurts(cast), hurts(cast, student=cast.bettina)]
    take_back_report(report=reports[0], by=cast.teacher, on=reports[0].reported_on)
    assert sorted(out(cast).told["reports"]) == sorted(str(each.uuid) for each in reports)


def test_nobody_is_told_why_where_the_family_agreed_to_no_notes(cast):
    hurts(cast)
    take_consent_back(cast, Consent.PAIN)
    told = out(cast).students[str(cast.ama.pk)]
    assert told["words"] == "not asked" and not told["isTold"] and not told["isWithdrawn"]
    take_consent_back(cast)
    assert out(cast).students[str(cast.ama.pk)]["isWithdrawn"]


def test_absent_all_day_is_known_to_a_second_screening_of_the_day_until_somebody_says_here(cast):
    second = factories.ScreeningFactory(
        class_group=cast.class_group, term=cast.term, battery=cast.battery, held_on=cast.screening.held_on,
        opened_by=cast.teacher,
    )
    measuring.record_missing(
        key=uuid.uuid4(), screening=second, student=cast.ama, measure=cast.rises,
        entry=Entry(reason_missing=Result.ABSENT), by=cast.teacher,
    )
    assert out(cast).absent == [cast.ama.pk]
    day = ClassDay(cast.class_group, cast.term, cast.screening.held_on)
    state_attendance(key=uuid.uuid4(), day=day, present=[cast.ama], absent=[], by=cast.teacher)
    assert out(cast).absent == []


def test_the_hub_is_told_of_every_class_at_the_barre_and_of_nobody_out_of_reach(cast, as_teacher):
    hurts(cast)
    told = as_teacher.get(reverse("progress:barre-out")).json()
    assert [each["class"] for each in told["outs"]] == [cast.class_group.pk]
    assert as_teacher.get(reverse("progress:barre-out"), {"seen": told["stamp"]}).status_code == 204
