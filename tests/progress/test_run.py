"""What a group run is told: whose foot goes first, who stands where, what was tapped; and how the line is changed."""
import datetime as dt
import json
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from progress.actions import measuring
from progress.queries.barre.run import first_side, run_view
from screening.actions import Entry
from screening.models import Result, Screening
from screening.queries import students_of
from studio.models import ClassGroup
from tests import factories


def record(cast, screening, side, *, first):
    return measuring.record_result(
        key=uuid.uuid4(), screening=screening, student=cast.ama, measure=cast.rises, side=side,
        entry=Entry(value=Decimal(9), is_first_side=first), by=cast.teacher,
    )


def later(cast, weeks):
    return factories.ScreeningFactory(
        class_group=cast.class_group, term=cast.term, battery=cast.battery, opened_by=cast.teacher,
        held_on=cast.screening.held_on + dt.timedelta(weeks=weeks),
    )


def test_the_first_foot_takes_turns_from_screening_to_screening(cast):
    assert first_side(cast.screening, cast.rises) == "L"
    record(cast, cast.screening, "L", first=True)
    record(cast, cast.screening, "R", first=False)
    assert first_side(cast.screening, cast.rises) == "L"
    second, third = later(cast, 1), later(cast, 2)
    assert first_side(second, cast.rises) == "R"
    record(cast, second, "R", first=True)
    assert (first_side(third, cast.rises), first_side(third, cast.balance)) == ("L", "L")


def test_what_was_typed_turns_nobody_round(cast):
    record(cast, cast.screening, "R", first=None)
    assert first_side(later(cast, 1), cast.rises) == "L"


def test_the_plan_holds_every_row_and_says_whose_it_is(cast):
    first = record(cast, cast.screening, "L", first=True)
    measuring.correct_result(
        key=uuid.uuid4(), result=first, entry=Entry(value=Decimal(10), fault="wobble"), by=cast.owner
    )
    view = run_view(cast.screening, cast.rises, students_of(cast.screening), by=cast.teacher, now=timezone.now())
    rows = json.loads(view.plan)["rows"]
    assert [(row["value"], row["fault"], row["by_id"], bool(row["corrects"])) for row in rows] == [
        ("9", "", cast.teacher.pk, False), ("10", "wobble", cast.owner.pk, True)]


def test_a_result_of_the_run_is_stored_with_its_foot_its_fault_and_at_least(as_teacher, cast):
    answer = as_teacher.post(reverse("progress:record-result", args=[cast.screening.pk, "rises"]), {
        "key": str(uuid.uuid4()), "student": cast.ama.pk, "side": "L", "value": "17", "confirmed": "1", "at_least": "1",
        "fault": "tired", "is_first_side": "0",
    }, headers={"X-Outbox": "yes"})
    assert answer.status_code == 200
    result = Result.objects.get()
    assert (result.reached_cap, result.fault, result.is_first_side) == (True, "tired", False)


def test_one_tap_opens_todays_screening_and_its_first_run_and_a_second_one_goes_to_the_same(as_teacher, cast):
    Screening.objects.all().delete()
    path = reverse("progress:start-run", args=[cast.class_group.pk])
    answers = [as_teacher.post(path).url for _tap in range(2)]
    opened = Screening.objects.get()
    assert answers == [reverse("progress:run", args=[opened.pk, "rises"])] * 2
    assert opened.opened_by == cast.teacher


def test_a_measure_that_no_clock_counts_has_no_run(as_teacher, cast):
    assert as_teacher.get(reverse("progress:run", args=[cast.screening.pk, "landing-control"])).status_code == 404


@pytest.mark.parametrize("fields, names, size", [
    ({"down": "ama"}, ["Bettina", "Ama"], 6), ({"up": "bettina"}, ["Bettina", "Ama"], 6),
    ({"up": "ama"}, ["Ama", "Bettina"], 6), ({"order": "bettina,ama"}, ["Bettina", "Ama"], 6),
    ({"order": "bettina"}, ["Bettina", "Ama"], 6), ({"order": "x,,9999999999999999999"}, ["Ama", "Bettina"], 6),
    ({"size": "3"}, ["Ama", "Bettina"], 3), ({"size": "9"}, ["Ama", "Bettina"], 6),
])
def test_the_line_page_changes_one_thing_a_post(as_teacher, cast, fields, names, size):
    keys = {"ama": cast.ama.enrolments.get().pk, "bettina": cast.bettina.enrolments.get().pk}
    said = {name: ",".join(str(keys.get(part, part)) for part in text.split(",")) for name, text in fields.items()}
    path = reverse("studio:class-line", args=[cast.class_group.pk])
    assert as_teacher.post(path, said).status_code == 302
    shown = as_teacher.get(path).context
    assert [name for _enrolment, name, _group in shown["line"]] == names
    assert ClassGroup.objects.get(pk=cast.class_group.pk).group_size == size


@pytest.mark.parametrize("back, is_shown", [
    ("/barre/screenings/1/rises/run/", True), ("//elsewhere.example/", False), ("https://elsewhere.example", False),
])
def test_the_line_leads_back_to_the_barre_and_nowhere_else(as_teacher, cast, back, is_shown):
    page = as_teacher.get(reverse("studio:class-line", args=[cast.class_group.pk]), {"back": back})
    assert (back in page.content.decode()) is is_shown
