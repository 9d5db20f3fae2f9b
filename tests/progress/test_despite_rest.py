"""Nobody who should rest is measured in silence: the server asks back and keeps the reason; the judge leaves it out."""
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from progress.actions import answering, measuring
from progress.actions.answering import Answer
from progress.actions.pain import report_pain, take_back_report
from progress.actions.standings import rebuild_standings
from progress.judging.line_record import read_line
from progress.models import FollowUp, PainReport, Standing
from progress.queries.judged import counted, stopped_by_pain
from screening.actions import Entry
from screening.models import Result
from tests.progress.test_measuring import past_results, record, take_back


def hurts(cast, *, student=None, feels=("sharp",), key=None, **more):
    return report_pain(
        key=key or uuid.uuid4(), student=student or cast.ama, class_group=cast.class_group, screening=cast.screening,
        measure=cast.rises, places=["L-achilles"], feels=list(feels), intensity=6, stopped="exercise", note="",
        reported_on=cast.screening.held_on, by=cast.teacher, **more,
    )


def despite(cast, value, why, *, corrects=None):
    entry = Entry(value=Decimal(value), despite_rest=why)
    if corrects is not None:
        return measuring.correct_result(key=uuid.uuid4(), result=corrects, entry=entry, by=cast.teacher)
    return measuring.record_result(
        key=uuid.uuid4(), screening=cast.screening, student=cast.ama, measure=cast.rises, side="L", entry=entry,
        by=cast.teacher,
    )


def judged():
    return [(row.student_id, row.side, read_line(row.line).level) for row in Standing.objects.order_by("pk")]


@pytest.fixture
def tablet(as_teacher, cast):
    def send(value, **more):
        fields = {"key": str(uuid.uuid4()), "student": cast.ama.pk, "side": "L", "value": value, "confirmed": "1"}
        return as_teacher.post(
            reverse("progress:record-result", args=[cast.screening.pk, "rises"]), {**fields, **more},
            headers={"X-Outbox": "yes", "X-Outbox-Person": str(cast.teacher.pk)},
        )

    return send


def test_a_result_of_a_child_who_should_rest_is_refused_until_a_reason_is_named(cast):
    hurts(cast)
    with pytest.raises(measuring.ShouldRest, match="Ama should rest: no rises for now"):
        record(cast, 9)
    assert not Result.objects.exists()
    assert despite(cast, 9, Result.CLEARED).despite_rest == Result.CLEARED


def test_a_report_that_came_in_between_refuses_the_result_that_waited_and_tells_the_stored_one_again(cast):
    key = uuid.uuid4()
    record(cast, 12, key=key)
    hurts(cast)
    assert record(cast, 12, key=key).value == 12
    with pytest.raises(measuring.ShouldRest):
        record(cast, 13, side="R")


def test_what_was_measured_before_the_report_stays_and_is_put_right_with_a_reason_only(cast):
    before = record(cast, 12)
    hurts(cast)
    with pytest.raises(measuring.ShouldRest):
        measuring.correct_result(key=uuid.uuid4(), result=before, entry=Entry(value=Decimal(13)), by=cast.teacher)
    assert [row.pk for row in counted(Result.objects.in_force())] == [before.pk]
    with_fault = measuring.correct_result(
        key=uuid.uuid4(), result=before, entry=Entry(value=Decimal(12), fault="wobble"), by=cast.teacher
    )
    assert with_fault.despite_rest == ""


def test_undo_needs_no_reason_and_brings_back_what_stood(cast):
    first = record(cast, 12)
    second = measuring.correct_result(
        key=uuid.uuid4(), result=first, entry=Entry(value=Decimal(14)), by=cast.teacher
    )
    hurts(cast)
    assert take_back(cast, second).value == 12
    assert take_back(cast, first).reason_missing == Result.WITHDRAWN


def test_a_result_despite_rest_is_kept_through_corrections_and_never_judged(cast):
    past_results(cast, [8, 9, 9, 11, 12, 11])
    rebuild_standings()
    before = judged()
    hurts(cast)
    first = despite(cast, 40, Result.BEFORE)
    again = measuring.correct_result(key=uuid.uuid4(), result=first, entry=Entry(value=Decimal(39)), by=cast.teacher)
    assert again.despite_rest == Result.BEFORE and judged() == before
    rebuild_standings()
    assert judged() == before


def test_seated_measures_are_no_question_while_rises_rest(cast):
    hurts(cast)
    cast.rises.loads_foot = False
    cast.rises.save()
    assert record(cast, 9).despite_rest == ""


def test_the_tablet_reads_the_question_its_reasons_and_keeps_nothing(cast, tablet):
    hurts(cast)
    answer = tablet("9")
    told = answer.json()
    assert answer.status_code == 422 and told["asks_rest"] is True
    assert told["why"] == "Ama should rest: no rises for now"
    assert [key for key, _words in told["reasons"]] == [Result.CLEARED, Result.BEFORE]
    assert tablet("9", despite=Result.BEFORE).json()["results"][0]["written"] == "9"


def test_without_script_the_same_question_stands_beside_the_value(cast, as_teacher):
    hurts(cast)
    fields = {"key": str(uuid.uuid4()), "student": cast.ama.pk, "side": "L", "value": "9"}
    address = reverse("progress:record-result", args=[cast.screening.pk, "rises"])
    page = as_teacher.post(address, fields)
    text = page.content.decode()
    assert page.status_code == 422 and "Ama should rest: no rises for now" in text and 'value="9"' in text
    assert 'name="despite" value="cleared"' in text and 'name="despite" value="before"' in text
    assert as_teacher.post(address, {**fields, "despite": "before"}).status_code == 302
    assert Result.objects.get().despite_rest == Result.BEFORE


def test_the_list_of_all_results_says_it_was_measured_while_resting(cast, as_teacher):
    hurts(cast)
    despite(cast, 9, Result.CLEARED)
    page = as_teacher.get(reverse("progress:results", args=[cast.ama.pk])).content.decode()
    assert "while resting: a clinician allowed it. Not judged" in page


def test_a_count_that_pain_stopped_is_at_least_that_and_never_enters_the_line(cast, as_teacher):
    past_results(cast, [8, 9, 9, 11, 12, 11])
    rebuild_standings()
    before = judged()
    stopped = record(cast, 5)
    assert judged() != before
    hurts(cast, stopped_result=stopped)
    assert judged() == before
    despite(cast, 6, Result.BEFORE, corrects=stopped)
    assert judged() == before and len(stopped_by_pain(Result.objects.filter(taken_on=stopped.taken_on))) == 2
    page = as_teacher.get(reverse("progress:results", args=[cast.ama.pk])).content.decode()
    assert "at least 6, stopped by pain" in page


@pytest.mark.parametrize("way", ["by who tapped it", "on the follow-ups"])
def test_a_count_counts_again_where_the_pain_was_a_mistake(cast, way):
    past_results(cast, [8, 9, 9, 11, 12, 11])
    stopped = record(cast, 10)
    before = judged()
    report = hurts(cast, stopped_result=stopped)
    assert judged() != before
    if way == "by who tapped it":
        take_back_report(report=report, by=cast.teacher, on=report.reported_on)
    else:
        answering.answer_pain(
            follow_up=FollowUp.objects.get(pain_reports=report), answer=Answer(kind="mistake", note="Wrong name."),
            closed_on=report.reported_on, by=cast.owner,
        )
    assert judged() == before


def test_the_pain_page_names_the_count_that_it_stopped_by_its_tablets_key(cast, as_teacher):
    stopped, theirs = record(cast, 5), record(cast, 7, student=cast.bettina)
    address = reverse("progress:report-pain", args=[cast.screening.pk, cast.ama.pk]) + "?measure=rises&run&at=5&of="
    for of, found in ((str(stopped.key), stopped), (str(theirs.key), None), ("nothing", None)):
        key = str(uuid.uuid4())
        as_teacher.post(address + of, {"key": key, "region": ["L-achilles"], "feels": "sharp"})
        assert PainReport.objects.get(uuid=key).stopped_result == found
