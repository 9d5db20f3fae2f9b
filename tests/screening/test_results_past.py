"""A school's past results: another cap, other layouts and units, and nothing opened for what is over."""
import datetime as dt

import pytest
from django.urls import reverse

from progress.judging.line_record import read_line
from progress.models import FollowUp, Standing
from progress.queries.first_steps import first_steps
from screening.models import Protocol, Result
from studio.models import KeptImport
from tests import factories
from tests.screening.test_results_import import AMA, answer, bring, confirm, outcomes, reasons, table

FURTHER = table(
    "Ama Owiredu,balance,left,1,45+,2026-03-10", "Ama Owiredu,balance,right,1,22,2026-03-10",
    "Ama Owiredu,rises,left,1,14,2026-03-10",
)


def test_values_above_the_cap_of_now_are_asked_about_and_not_cut(as_owner, cast):
    preview = bring(as_owner, cast, FURTHER)
    assert outcomes(preview) == ["ask", "ask", "add"]
    words = preview.content.decode()
    assert "Passé balance: the file goes up to 45, the limit here is 30" in words
    assert "1 value lies above the limit that holds now." in words
    confirm(as_owner, preview)
    assert [row.measure for row in Result.objects.all()] == [cast.rises]
    assert [row["row"] for row in KeptImport.objects.get().left_out] == [2, 3]


def test_a_cap_of_the_file_is_kept_beside_the_protocol_as_a_line_of_its_own(as_owner, cast):
    preview = answer(as_owner, bring(as_owner, cast, FURTHER), **{"cap-passe-balance": "beside"})
    assert outcomes(preview) == ["add", "add", "add"]
    confirm(as_owner, preview)
    left, right = Result.objects.filter(measure=cast.balance).order_by("side")
    assert (left.value, left.reached_cap, right.value, right.reached_cap) == (45, True, 22, False)
    assert left.protocol == right.protocol != Protocol.objects.filter(measure=cast.balance).latest("version")
    assert left.protocol.cap is None
    again = answer(as_owner, bring(as_owner, cast, FURTHER), **{"cap-passe-balance": "beside"})
    assert outcomes(again) == ["same", "same", "same"]
    record = Standing.objects.filter(measure=cast.balance)
    assert {read_line(row.line).knots[-1].protocol for row in record} == {left.protocol.version}


def test_whoever_prefers_it_keeps_them_as_at_least_the_cap(as_owner, cast):
    confirm(as_owner, answer(as_owner, bring(as_owner, cast, FURTHER), **{"cap-passe-balance": "cap"}))
    left = Result.objects.get(measure=cast.balance, side="L")
    assert (left.value, left.reached_cap, left.protocol.cap) == (30, True, 30)


@pytest.mark.parametrize("line, sentence", [
    ("Ama Owiredu,plank,left,1,14,2026-03-10", "The measures here: rises, balance"),
    ("Ama Owiredu,rises,left,1,12 cm,2026-03-10", "“12 cm” does not fit: Rises, one foot is written in rises."),
    ("Ama Owiredu,knee to wall,left,1,45 mm,2026-03-10", "“45 mm” does not fit: Knee to wall is written in cm."),
    ("Ama Owiredu,balance,left,1,12 reps,2026-03-10", "does not fit: Passé balance is written in s."),
])
def test_what_does_not_fit_says_what_would(as_owner, cast, line, sentence):
    assert sentence in reasons(bring(as_owner, cast, table(line, AMA)))


@pytest.mark.parametrize("value", ["12 s", "12s", "12 sec.", "≥12 s", "12 s+"])
def test_the_unit_of_the_measure_is_no_trouble(as_owner, cast, value):
    assert outcomes(bring(as_owner, cast, table(f"Ama Owiredu,balance,left,1,{value},2026-03-10"))) == ["add"]


def test_an_unknown_layout_is_answered_by_the_layouts_that_can_be_read(as_owner, cast):
    words = bring(as_owner, cast, "Kid;When;Left;Right\nAma Owiredu;2026-03-10;14;15\n").content.decode()
    assert "Layouts that can be read" in words and "Both feet in one cell" in words
    assert "A sheet for each day" in words
    assert "Layouts that can be read" in as_owner.get(reverse("progress:bring-results")).content.decode()


@pytest.mark.parametrize("heading, values", [
    ("Rises L/R", (14, 15)), ("Rises R/L", (15, 14)), ("Rises (left/right)", (14, 15)),
])
def test_both_feet_may_stand_in_one_cell_where_the_heading_says_so(as_owner, cast, heading, values):
    confirm(as_owner, bring(as_owner, cast, f"Student;Date;{heading}\nAma Owiredu;2026-03-10;14/15\n"))
    assert tuple(Result.objects.order_by("side").values_list("value", flat=True)) == values


def test_two_values_in_a_cell_whose_heading_names_no_feet_say_how_to_name_them(as_owner, cast):
    preview = bring(as_owner, cast, "Student;Date;Rises\nAma Owiredu;2026-03-10;14/15\n")
    assert "Name both feet in the heading" in reasons(preview)


def test_a_child_without_a_result_stays_a_row_with_its_reason(as_owner, cast):
    preview = bring(as_owner, cast, "Student;Date;Rises left;Rises right\nAma Owiredu;2026-03-10;14;15\n"
                                    "Bettina Krall;2026-03-10;;\n")
    assert outcomes(preview) == ["add", "add", "refuse"]
    assert "No test and no value is filled in here." in reasons(preview)


def test_past_results_open_no_follow_up_for_a_term_that_is_over(as_owner, cast):
    """Ten weeks without a gain, a year ago."""
    term = factories.TermFactory(name="Autumn", starts_on=dt.date(2025, 9, 8), ends_on=dt.date(2025, 12, 6))
    factories.EnrolmentFactory(
        student=cast.ama, class_group=cast.class_group, term=term, joined_on=term.starts_on)
    days = [dt.date(2025, 9, 9) + dt.timedelta(weeks=week) for week in range(12)]
    values = [15, 16, 15, 14, 15, 14, 13, 13, 12, 11, 11, 10]
    lines = [f"Ama Owiredu,rises,{side},1,{value + (8 if side == 'right' else 0)},{day}"
             for day, value in zip(days, values, strict=True) for side in ("left", "right")]
    confirm(as_owner, bring(as_owner, cast, table(*lines)))
    verdicts = set(Standing.objects.values_list("verdict", flat=True))
    assert verdicts & {"slipping", "stalled"}
    assert not FollowUp.objects.exists()


def test_past_results_of_many_days_do_not_end_the_first_steps(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, table(*(
        f"Ama Owiredu,rises,left,1,{10 + day},2026-03-{day}" for day in range(10, 16)))))
    assert [step.name for step in first_steps(cast.studio, today=dt.date(2026, 3, 24))] == ["The cards"]
