"""Ask in this class: who told of pain before is asked by name in the log, and what is said is kept once."""
import datetime as dt
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from progress.actions.classwork.asking import said_fine
from progress.actions.pain import report_pain
from progress.models import FollowUp, FollowUpNote
from progress.queries.classwork.asking import asked_in_class


@pytest.fixture
def watched(cast) -> FollowUp:
    """A dull ache of a week ago."""
    return told(cast, cast.screening.held_on - dt.timedelta(days=7))


def told(cast, on: dt.date, *, feels="dull") -> FollowUp:
    report = report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=None, measure=None,
        places=["L-shin"], feels=[feels], intensity=3, stopped="no", note="", reported_on=on, by=cast.teacher,
    )
    return report.follow_ups.get()


@pytest.mark.parametrize("days, is_asked", [(1, True), (0, False), (-1, False)])
def test_it_is_asked_from_the_day_after_it_was_told(cast, days, is_asked):
    follow_up = told(cast, cast.screening.held_on - dt.timedelta(days=7))
    on = follow_up.opened_on + dt.timedelta(days=days)
    assert [each.name for each in asked_in_class([cast.ama, cast.bettina], on, now=timezone.now())] == (
        ["Ama"] if is_asked else []
    )


def test_the_log_names_who_is_asked_and_not_what_hurts(cast, as_teacher, watched):
    page = as_teacher.get(reverse("progress:class-log", args=[cast.class_group.pk])).content.decode()
    asked = page.split('class="ask-in-class"')[1].split("</section>")[0]
    assert "Ama" in asked and "Bettina" not in asked and "still hurts" in asked
    assert "shin" not in page.lower() and "dull" not in asked.lower()


def test_fine_is_noted_once_however_often_it_is_sent(cast, as_teacher, watched):
    assert watched.kind == FollowUp.PAIN_WATCHED
    on, key = cast.screening.held_on, str(uuid.uuid4())
    for _twice in range(2):
        answer = as_teacher.post(
            reverse("progress:log-asked", args=[cast.class_group.pk]),
            {"key": key, "on": str(on), "follow_up": watched.pk},
            headers={"X-Outbox": "yes", "X-Outbox-Person": str(cast.teacher.pk)},
        )
        assert answer.status_code == 200 and answer.json()["key"] == key
    note = FollowUpNote.objects.get(follow_up=watched)
    assert "fine" in note.text and note.by == cast.teacher
    assert asked_in_class([cast.ama], on, now=timezone.now()) == []
    assert not FollowUp.objects.get(pk=watched.pk).is_open


def test_what_is_to_be_seen_is_not_settled_by_a_word(cast, watched):
    FollowUp.objects.filter(pk=watched.pk).update(kind=FollowUp.PAIN_LASTS)
    watched.refresh_from_db()
    said_fine(follow_up=watched, on=cast.screening.held_on, by=cast.teacher)
    watched.refresh_from_db()
    assert watched.is_open and FollowUpNote.objects.get().kind == FollowUpNote.NOTE


def test_a_follow_up_of_another_class_is_not_found(cast, client, watched):
    client.force_login(cast.other_teacher, backend="django.contrib.auth.backends.ModelBackend")
    answer = client.post(
        reverse("progress:log-asked", args=[cast.other_class.pk]),
        {"key": str(uuid.uuid4()), "on": str(cast.screening.held_on), "follow_up": watched.pk},
    )
    assert answer.status_code == 404 and not FollowUpNote.objects.exists()
