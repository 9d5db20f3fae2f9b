"""The first weeks on pointe: steps that a teacher moves, heel and big toe asked about, minutes week by week.

Fifteen minutes at the end of class as a beginning: Weiss, Rist and Grossman (2009), J Dance Med Sci 13(3):90-92. Barre
before centre and two feet before one are common practice, no source; eight weeks of asking are the studio's own rule.
"""
import datetime as dt
import json
import re
import uuid

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from progress.actions.pain import report_pain
from progress.actions.pointe_weeks import keep_pointe_ladder, log_minutes, put_on_step
from progress.drawing.minutes import minutes_svg
from progress.models import PointeLadder, PointeStep, PointeTime
from progress.queries.pointe_weeks import class_rows, pointe_ladder, pointe_story
from studio.actions import Refused
from studio.models import Consent, Stage
from tests.conftest import TODAY
from tests.family.conftest import agree

FIXTURE = json.loads((settings.BASE_DIR / "fixtures" / "pointe_ladder.json").read_text(encoding="utf-8"))
WEEK = dt.timedelta(weeks=1)


@pytest.fixture
def ama(cast):
    """Ama in the first year on pointe; Bettina is not."""
    agree(cast, cast.ama)
    cast.ama.stage = Stage.objects.get(key="first-year")
    cast.ama.save()
    return cast.ama


def minutes(cast, student, on: dt.date, count: int, said: str = "fine") -> PointeTime:
    return log_minutes(
        student=student, class_group=cast.class_group, held_on=on, minutes=count, said=said, by=cast.teacher
    )


def hurt(cast, student) -> None:
    report_pain(key=uuid.uuid4(), student=student, class_group=cast.class_group, screening=None, measure=None,
                places=["R-heel"], feels=["sharp"], intensity=6, stopped="exercise", note="", reported_on=TODAY,
                by=cast.teacher)


def rows(cast):
    return class_rows(cast.class_group, cast.term, today=TODAY, now=timezone.now())


def test_every_step_of_the_fixture_has_a_source_or_says_that_it_has_none():
    said = [step["source"] for step in FIXTURE["steps"]]
    assert all(re.match("studio’s own|common practice, no source|fifteen minutes at the end of class: Weiss", each)
               for each in said)
    fifteen = [step["minutes"] for step in FIXTURE["steps"] if "Weiss" in step["source"]]
    assert fifteen == [15]


def test_no_step_asks_for_more_than_half_again_and_barre_comes_before_centre():
    dose = [step["minutes"] for step in FIXTURE["steps"]]
    assert all(after <= before * 1.5 for before, after in zip(dose, dose[1:], strict=False))
    places = ["centre" in step["words"] for step in FIXTURE["steps"]]
    assert places == sorted(places)


def test_only_who_is_on_pointe_stands_on_the_list_of_a_class(cast, ama):
    assert [row.student for row in rows(cast)] == [ama]
    agree(cast, ama, Consent.MEASUREMENTS, is_given=False)
    assert rows(cast) == []


def test_a_teacher_moves_a_student_and_the_same_once_more_writes_nothing(cast, ama, as_teacher):
    path = reverse("progress:student-pointe", args=[ama.pk])
    for step in ("1", "1", "2"):
        assert as_teacher.post(path, {"step": step}).status_code == 302
    assert [row.step for row in ama.pointe_steps.all()] == [1, 2]
    assert as_teacher.post(path, {"step": "99"}).status_code == 422
    page = as_teacher.get(path).content.decode()
    assert "At the barre, one hand, two feet" in page and "Weiss, Rist and Grossman 2009" in page


def test_heel_and_big_toe_are_asked_about_for_eight_weeks_from_the_first_class(cast, ama):
    assert rows(cast)[0].is_asked and rows(cast)[0].week == 0
    first = minutes(cast, ama, TODAY - 8 * WEEK + dt.timedelta(days=1), 10)
    assert (rows(cast)[0].is_asked, rows(cast)[0].week) == (True, 8)
    PointeTime.objects.filter(pk=first.pk).update(held_on=TODAY - 8 * WEEK)
    assert (rows(cast)[0].is_asked, rows(cast)[0].week) == (False, 0)


def test_without_consent_to_pain_notes_nobody_is_asked_and_nothing_said_is_told(cast, ama, as_teacher):
    minutes(cast, ama, TODAY, 10, "hurts")
    path = reverse("progress:student-pointe", args=[ama.pk])
    assert "it hurts" in as_teacher.get(path).content.decode()
    agree(cast, ama, Consent.PAIN, is_given=False)
    assert "it hurts" not in as_teacher.get(path).content.decode()
    page = as_teacher.get(reverse("progress:class-pointe", args=[cast.class_group.pk])).content.decode()
    assert f"minutes_{ama.pk}" in page and f"said_{ama.pk}" not in page


def test_minutes_are_typed_for_the_class_and_whoever_hurts_is_reported_next(cast, ama, as_teacher):
    path = reverse("progress:class-pointe", args=[cast.class_group.pk])
    answer = as_teacher.post(path, {f"minutes_{ama.pk}": "12", f"said_{ama.pk}": "hurts"})
    assert answer.url == reverse("progress:report-pain-of-student", args=[ama.pk])
    again = as_teacher.post(path, {f"minutes_{ama.pk}": "12", f"said_{ama.pk}": "hurts"})
    assert again.url == path and PointeTime.objects.count() == 1


def test_of_two_who_hurt_neither_is_forgotten(cast, ama, as_teacher):
    agree(cast, cast.bettina)
    type(ama).objects.filter(pk=cast.bettina.pk).update(stage=ama.stage)
    path = reverse("progress:class-pointe", args=[cast.class_group.pk])
    sent = {f"{name}_{child.pk}": value for child in (ama, cast.bettina)
            for name, value in (("minutes", "12"), ("said", "hurts"))}
    page = as_teacher.post(path, sent, follow=True).content.decode()
    assert "Report what hurts for Bettina, too." in page
    page = as_teacher.get(path).content.decode()
    assert all(reverse("progress:report-pain-of-student", args=[child.pk]) in page for child in (ama, cast.bettina))


def test_another_row_of_the_day_stands_in_for_the_first(cast, ama):
    minutes(cast, ama, TODAY, 10)
    minutes(cast, ama, TODAY, 15)
    minutes(cast, ama, TODAY - WEEK, 10)
    story = pointe_story(ama, today=TODAY, now=timezone.now())
    assert [count for _monday, count in story.weeks] == [10, 15] and PointeTime.objects.count() == 3
    assert story.row.minutes_this_week == 15


def test_whoever_hurts_or_comes_back_in_steps_gets_no_minute_and_no_step_more(cast, ama, as_teacher):
    put_on_step(student=ama, step=1, note="", on=TODAY, by=cast.teacher)
    hurt(cast, ama)
    with pytest.raises(Refused, match="leaves pointe work out for now"):
        minutes(cast, ama, TODAY, 5)
    with pytest.raises(Refused):
        put_on_step(student=ama, step=2, note="", on=TODAY, by=cast.teacher)
    assert put_on_step(student=ama, step=0, note="", on=TODAY, by=cast.teacher).step == 0
    page = as_teacher.get(reverse("progress:class-pointe", args=[cast.class_group.pk])).content.decode()
    assert "leaves pointe work out for now" in page and f"minutes_{ama.pk}" not in page


def test_the_owner_edits_the_steps_and_who_stands_on_one_keeps_it(cast, ama, as_owner):
    put_on_step(student=ama, step=1, note="", on=TODAY, by=cast.owner)
    path = reverse("progress:pointe-ladder")
    sent = {"words_0": "Sitting, shoes on", "minutes_0": "5", "source_0": "", "words_1": "At the barre",
            "minutes_1": ""}
    assert as_owner.post(path, sent).status_code == 422
    assert as_owner.post(path, {**sent, "minutes_1": "8"}).status_code == 302
    assert [step["source"] for step in pointe_ladder().steps] == ["studio’s own", "studio’s own"]
    assert PointeStep.objects.get().words == "At the barre, two hands, two feet"
    before = PointeLadder.objects.count()
    keep_pointe_ladder(steps=pointe_ladder().steps, by=cast.owner)
    assert PointeLadder.objects.count() == before


def test_minutes_are_drawn_week_by_week_and_a_week_without_is_a_line():
    drawn = minutes_svg([("7 September", 25), ("14 September", 0), ("21 September", 50)], title="Minutes")
    assert re.findall(r'height="(\d+)"/>', drawn) == ["55", "0", "110"]
    assert "7 September: 25; 14 September: 0; 21 September: 50" in drawn and minutes_svg([], title="Minutes") == ""
